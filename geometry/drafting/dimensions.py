"""Dimensions in tiers, ordinates and labels in rows: placed so that no words meet others. In mm.

Everything is laid out along a side of a view: `u` runs along it, `v` away from it. Extension lines
run along v; words keep clear of all of them, and of `blocked` places where something else runs.
"""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from itertools import accumulate, pairwise
from typing import Literal

from platestack.geometry.drafting.draft import ARROW, Draft
from platestack.geometry.drafting.lettering import LEADING, TEXT, width
from platestack.geometry.shapes import Point

Along = Literal["above", "below", "left", "right"]
FIRST, TIER = 9.0, 7.0
"""From a view to the first dimension line, and from one to the next."""
GAP, BEYOND, CLEAR = 0.8, 1.5, 1.2
"""From a view to an extension line; what it reaches beyond; room beside words."""


def place(side: Along, u: float, v: float) -> Point:
    """Point on paper."""
    return {"above": (u, v), "below": (u, -v), "right": (v, u), "left": (-v, u)}[side]


@dataclass(frozen=True)
class Span:
    """A length from `a` to `b` along u, whose extension lines begin at `starts` along v."""

    a: float
    b: float
    starts: tuple[float, float]
    text: str
    shown: tuple[tuple[str, str], ...]
    """Role and text of each number in it."""


@dataclass(frozen=True)
class _Laid:
    span: Span
    words: tuple[float, float]
    """Ends of its words along u."""
    reach: tuple[float, float]
    """Ends of its whole line along u."""


def tiers(
    draft: Draft, side: Along, spans: Iterable[Span], edge: float, blocked: Sequence[float] = ()
) -> float:
    """Add linear dimensions, the shortest nearest to the view; where the last tier lies along v."""
    spans = sorted(spans, key=lambda s: (s.b - s.a, s.a))
    levels: list[list[_Laid]] = []
    for index, span in enumerate(spans):
        later = [u for other in spans[index + 1 :] for u in (other.a, other.b)]
        laid = _words_of(span, [*later, *blocked])
        level = next((n for n in range(len(levels)) if _fits(laid, n, levels)), len(levels))
        if level == len(levels):
            levels.append([])
        levels[level].append(laid)
        _linear(draft, side, laid, edge + FIRST + level * TIER)
    return edge + FIRST + (len(levels) - 1) * TIER if levels else edge


def _words_of(span: Span, lines: Sequence[float]) -> _Laid:
    """Find room for the words: in the middle, else elsewhere between the arrows, else beside."""
    long, a, b = width(span.text), span.a, span.b
    half = long / 2 + CLEAR

    def free(centre: float) -> bool:
        return not any(abs(u - centre) < half for u in lines)

    room = b - a - 2 * half
    if room >= 0:
        steps = [room / 2 * part / 10 * sign for part in range(11) for sign in (1, -1)]
        for step in steps:
            if free((a + b) / 2 + step):
                centre = (a + b) / 2 + step
                return _Laid(span, (centre - long / 2, centre + long / 2), (a, b))
    out = 2 * ARROW
    for step in range(400):
        for centre in (b + out + half + step, a - out - half - step):
            if free(centre):
                ends = centre - long / 2, centre + long / 2
                reach = min(a - out, ends[0] - CLEAR), max(b + out, ends[1] + CLEAR)
                return _Laid(span, ends, reach)
    raise AssertionError("four hundred millimetres hold some words")


def _fits(laid: _Laid, level: int, levels: list[list[_Laid]]) -> bool:
    """Whether a dimension fits into a level: no words are met by lines that pass their level."""

    def crosses(span: Span, other: _Laid) -> bool:
        return any(other.words[0] - CLEAR < u < other.words[1] + CLEAR for u in (span.a, span.b))

    beside = all(laid.reach[1] <= o.reach[0] + 1e-6 or o.reach[1] <= laid.reach[0] + 1e-6
                 for o in levels[level])  # fmt: skip
    nearer = (o for other in levels[:level] for o in other)
    farther = (o for other in levels[level + 1 :] for o in other)
    return (beside and not any(crosses(laid.span, o) for o in nearer)
            and not any(crosses(o.span, laid) for o in farther))  # fmt: skip


def _linear(draft: Draft, side: Along, laid: _Laid, v: float) -> None:
    """Draw a dimension: extension lines, line, arrows, words above it."""
    span, (a, b) = laid.span, laid.reach
    draft.own()
    for u, start in zip((span.a, span.b), span.starts, strict=True):
        draft.stroke(place(side, u, start + GAP), place(side, u, v + BEYOND), ink="thin")
    draft.stroke(place(side, a, v), place(side, b, v), ink="thin")
    inside = (a, b) == (span.a, span.b)
    for tip, other in ((span.a, span.b), (span.b, span.a)):
        away = other if inside else 2 * tip - other
        draft.arrow(place(side, tip, v), place(side, away, v))
    x, y = place(side, sum(laid.words) / 2, v)
    upright = side in ("left", "right")
    at = (x - CLEAR, y) if upright else (x, y + CLEAR)
    draft.words(at, span.text, upright=upright)
    for role, text in span.shown:
        draft.show(role, text)


def spread(wished: Sequence[float], needs: Sequence[float]) -> list[float]:
    """Centres as near as possible to those wished, in their order, each with the room it needs.

    Pools neighbours that violate the order (isotonic regression).
    """
    if not wished:
        return []
    gaps = [(a + b) / 2 for a, b in pairwise(needs)]
    offsets = [0.0, *accumulate(gaps)]
    pools: list[tuple[float, int]] = []
    for value in (w - o for w, o in zip(wished, offsets, strict=True)):
        pools.append((value, 1))
        while len(pools) > 1 and pools[-2][0] > pools[-1][0]:
            (a, m), (b, n) = pools[-2:]
            pools[-2:] = [((a * m + b * n) / (m + n), m + n)]
    level = [value for value, count in pools for _ in range(count)]
    return [value + offset for value, offset in zip(level, offsets, strict=True)]


@dataclass(frozen=True)
class Ordinate:
    """A coordinate from the datum: where, from where along v its line begins, its words."""

    u: float
    start: float
    text: str
    role: str


def ordinates(draft: Draft, side: Along, marks: Iterable[Ordinate], edge: float) -> float:
    """Add running coordinates beside a view, each at its line; how far they reach along v."""
    marks = sorted(marks, key=lambda mark: mark.u)
    need = TEXT * LEADING
    beside = spread([mark.u for mark in marks], [need] * len(marks))
    reach = edge
    for mark, u in zip(marks, beside, strict=True):
        draft.own()
        draft.stroke(*(place(side, *at) for at in (
            (mark.u, mark.start), (mark.u, edge + 3), (u, edge + 7), (u, edge + 9))),
            ink="thin")  # fmt: skip
        x, y = place(side, u, edge + 10)
        if side in ("above", "below"):
            draft.words((x + TEXT / 2, y), mark.text, side="right" if side == "below" else "left",
                        upright=True)  # fmt: skip
        else:
            draft.words((x, y - TEXT / 2), mark.text, side="right" if side == "left" else "left")
        draft.show(mark.role, mark.text)
        reach = max(reach, edge + 10 + width(mark.text))
    return reach


@dataclass(frozen=True)
class LeaderLabel:
    """Words, line by line, with a leader to a place of the view; roles of what they show."""

    anchor: Point
    lines: tuple[str, ...]
    shown: tuple[tuple[str, str], ...] = ()
    """Role and text of each number."""


def rising(found: Sequence[LeaderLabel]) -> list[float]:
    """Where leaders of labels rise, from left to right: at least a millimetre or so apart."""
    return spread(sorted(one.anchor[0] for one in found), [1.5] * len(found))


def labels(draft: Draft, found: Sequence[LeaderLabel], elbow: float) -> None:
    """Add labels in a row above a view; the leaders rise to `elbow`, and turn.

    In the order of their anchors no leader crosses another.
    """
    order = sorted(found, key=lambda one: one.anchor)
    wide = [max(map(width, one.lines)) for one in order]
    needs = [long + 4.0 for long in wide]
    places = rising(found)
    centres = spread([x + long / 2 for x, long in zip(places, wide, strict=True)], needs)
    row = elbow + 7.0
    for one, x, long, centre in zip(order, places, wide, centres, strict=True):
        left = centre - long / 2
        draft.own()
        draft.arrow(one.anchor, (x, elbow) if elbow > one.anchor[1] else (left, row))
        draft.stroke(one.anchor, (x, elbow), (left, row), (left + long, row), ink="thin")
        for number, line in enumerate(reversed(one.lines)):
            draft.words((left, row + CLEAR + number * TEXT * LEADING), line, side="left")
        for role, text in one.shown:
            draft.show(role, text)
