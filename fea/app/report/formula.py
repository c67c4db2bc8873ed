"""Formulae: from the Unicode text of a check to mathematics set on a page.

Read: sums, products, fractions (``a / b``), roots (``√(x)``), subscripts (``R_eH``), powers
(``d²``, ``x^3``), calls (``max(a, b)``), relations. What does not read as mathematics stays text.
"""

from __future__ import annotations

import re
from dataclasses import dataclass
from html import escape

_TOKEN = re.compile(
    r"\s*(\d+(?:[.,]\d+)*(?:[eE][-+]?\d+)?%?|[A-Z]\.(?=\s)"
    r"|[^\W\d_²³⁴]+(?:['’]s|['′])?(?:_[^\W_²³⁴]+(?:,[^\W_²³⁴]+)*)?"
    r"|[²³⁴]|√|\S)"
)
_POWERS = {"²": "2", "³": "3", "⁴": "4"}
_JOINTS = frozenset("=≤≥<>≈≠+−-±×·*,;:→|∕")
_OPENING, _CLOSING = {"(": ")", "[": "]"}, frozenset(")]")


@dataclass(frozen=True)
class Node:
    """A piece of mathematics: its kind, its text, and the pieces in it."""

    kind: str
    text: str = ""
    parts: tuple[Node, ...] = ()


def read(text: str) -> Node:
    """Read a formula; text that cannot be read comes back as words."""
    reader = _Reader(_TOKEN.findall(text))
    try:
        found = reader.row()
    except (IndexError, RecursionError):
        return Node("word", text)
    return found if not reader.rest else Node("word", text)


class _Reader:
    """Recursive descent over the tokens."""

    def __init__(self, tokens: list[str]):
        self.rest = tokens[::-1]

    def row(self) -> Node:
        """Terms and the signs between them, up to a closing bracket or the end."""
        parts: list[Node] = []
        while self.rest and self.rest[-1] not in _CLOSING:
            token = self.rest[-1]
            if token in _JOINTS:
                self.rest.pop()
                parts.append(Node("sign", {"-": "−", "*": "·"}.get(token, token)))
            else:
                parts.append(self.term())
        return Node("row", parts=tuple(parts))

    def term(self) -> Node:
        """Factors side by side; a fraction takes the factors before its bar."""
        factors = [self.factor()]
        while self.rest and self.rest[-1] not in _JOINTS and self.rest[-1] not in _CLOSING:
            if self.rest[-1] == "/":
                self.rest.pop()
                above = _bare(factors)
                factors = [Node("fraction", parts=(above, _bare([self.factor()])))]
            else:
                found = self.factor()
                if found.kind == factors[-1].kind == "word":  # words side by side are a phrase
                    found = Node("word", f"{factors.pop().text} {found.text}")
                factors.append(found)
        return factors[0] if len(factors) == 1 else Node("row", parts=tuple(factors))

    def factor(self) -> Node:
        """An atom with its power; a name directly before a bracket is called."""
        token = self.rest.pop()
        if token == "√":
            base = Node("root", parts=(_bare([self.factor()]),))
        elif token in _OPENING:
            inner = self.row()
            closing = self.rest.pop()
            base = Node("group", token + closing, (inner,))
        elif token[0].isdigit():
            base = Node("number", token)
        else:
            base = _name(token)
        while self.rest and (self.rest[-1] in _POWERS or self.rest[-1] == "^"):
            sign = self.rest.pop()
            power = self.factor() if sign == "^" else Node("number", _POWERS[sign])
            base = Node("power", parts=(base, _bare([power])))
        return base


def _name(token: str) -> Node:
    base, _, below = token.partition("_")
    if not below:
        return Node("symbol" if len(base) == 1 else "word", base)
    return Node("sub", parts=(Node("symbol" if len(base) == 1 else "word", base),
                              Node("symbol" if len(below) == 1 else "word", below)))  # fmt: skip


def _bare(factors: list[Node]) -> Node:
    """What stands in a fraction or root needs no brackets of its own."""
    if len(factors) == 1 and factors[0].kind == "group":
        return factors[0].parts[0]
    return factors[0] if len(factors) == 1 else Node("row", parts=tuple(factors))


def mathml(text: str) -> str:
    """A formula as a MathML element, with its text as the alternative."""
    inner = _mathml(read(text))
    return f'<math displaystyle="true" aria-label="{escape(text, quote=True)}">{inner}</math>'


def _mathml(node: Node) -> str:
    inner = [_mathml(part) for part in node.parts]
    row = [f"<mrow>{part}</mrow>" for part in inner]
    match node.kind:
        case "row":
            return _spaced(node, inner, "<mspace width='0.3em'/>")
        case "group":
            return f"<mrow><mo>{node.text[0]}</mo>{inner[0]}<mo>{node.text[1]}</mo></mrow>"
        case "fraction":
            return f"<mfrac>{row[0]}{row[1]}</mfrac>"
        case "root":
            return f"<msqrt>{inner[0]}</msqrt>"
        case "sub":
            return f"<msub>{row[0]}{row[1]}</msub>"
        case "power":
            return f"<msup>{row[0]}{row[1]}</msup>"
    tag = {"sign": "mo", "number": "mn", "symbol": "mi", "word": "mtext"}[node.kind]
    return f"<{tag}>{escape(node.text)}</{tag}>"


def typst(text: str) -> str:
    """A formula in the mathematics of the typesetter."""
    return _typst(read(text))


def _typst(node: Node) -> str:
    inner = [_typst(part) for part in node.parts]
    match node.kind:
        case "row":
            return _spaced(node, inner, ' " " ', " ")
        case "group":
            return f"lr(\\{node.text[0]} {inner[0]} \\{node.text[1]})"
        case "fraction":
            return f"frac({inner[0]}, {inner[1]})"
        case "root":
            return f"sqrt({inner[0]})"
        case "sub":
            return f"attach({inner[0]}, b: {inner[1]})"
        case "power":
            return f"attach({inner[0]}, t: {inner[1]})"
    if node.kind == "symbol" and node.text.isalpha():
        return node.text
    quoted = node.text.replace("\\", "\\\\").replace('"', '\\"')
    if node.kind == "sign":
        return {",": "\\,", ";": "\\;"}.get(node.text, node.text)
    return f'"{quoted}"'


def _spaced(node: Node, inner: list[str], gap: str, between: str = "") -> str:
    """Pieces side by side; words keep a space between them and what follows, a call does not."""
    made: list[str] = []
    for index, piece in enumerate(inner):
        if index and _is_word(node.parts[index - 1], node.parts[index]):
            made.append(gap)
        made.append(piece)
    return between.join(made)


def _is_word(before: Node, after: Node) -> bool:
    kinds = {before.kind, after.kind}
    if "sign" in kinds or (after.kind == "group" and before.kind in ("word", "symbol", "sub")):
        return False
    return "word" in kinds or before.kind == after.kind == "sub"
