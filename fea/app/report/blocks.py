"""What a dossier is made of: blocks that `report.html` and `report.pdf` set alike."""

from __future__ import annotations

from dataclasses import dataclass


@dataclass(frozen=True)
class Text:
    """A paragraph; `kind` is plain, caution, within or exceeded."""

    words: str
    kind: str = "plain"


@dataclass(frozen=True)
class TableBlock:
    """A table: heads of its columns, rows of text; numbers stand to the right."""

    caption: str
    columns: tuple[str, ...]
    rows: tuple[tuple[str, ...], ...]
    right: tuple[int, ...] = ()


@dataclass(frozen=True)
class Picture:
    """A drawing (SVG) or a picture (PNG), with the words for who cannot see it."""

    name: str
    data: bytes
    caption: str
    alt: str


@dataclass(frozen=True)
class Calculation:
    """A check or a fact: formula, numbers put in, result, source; `use` is None for a fact."""

    name: str
    formula: str
    """As `fea.app.report.formula` reads it; empty where `method` says all."""
    method: str
    inputs: tuple[tuple[str, str], ...]
    result: str
    limit: str
    use: float | None
    percent: str
    source: str
    notes: tuple[str, ...]


@dataclass(frozen=True)
class Scene:
    """The place of the three-dimensional scene; paper gets the words instead."""

    words: str


@dataclass(frozen=True)
class Limit:
    """A demand against a limit, in words, with their quotient."""

    name: str
    demand: str
    limit: str
    use: float
    percent: str
    named: str


@dataclass(frozen=True)
class LimitBars:
    """Demands over limits with a bar for each."""

    caption: str
    rows: tuple[Limit, ...]


@dataclass(frozen=True)
class Beside:
    """A tall drawing, and what stands beside it."""

    picture: Picture
    blocks: tuple[Text | TableBlock, ...]


@dataclass(frozen=True)
class Head:
    """A heading within a section."""

    words: str


Block = Text | TableBlock | Picture | Calculation | Scene | LimitBars | Beside | Head


@dataclass(frozen=True)
class DossierSection:
    """A heading and what stands under it."""

    title: str
    blocks: tuple[Block, ...]


@dataclass(frozen=True)
class Dossier:
    """All of it."""

    title: str
    subtitle: str
    sections: tuple[DossierSection, ...]
