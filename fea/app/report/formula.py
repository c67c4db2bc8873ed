"""Formulas: from the text of a check to one symbolic expression, and from it to mathematics.

The text is exact: ``·`` multiplies, ``/`` divides what stands directly before and after it, powers
are ``²``, ``³``, ``⁴`` or ``^``, functions take brackets: ``√(x)``, ``ln``, ``min``, ``max``,
``cos``, ``coth``, ``atan``, ``abs``, ``ceil``. Symbols are letters with a subscript after ``_``;
``π`` is the number. ``≤`` or ``≥`` stands between demand and limit. Nothing is evaluated by the
interpreter, as texts come from files.
"""

from __future__ import annotations

import ast
import functools
from collections.abc import Callable, Mapping
from dataclasses import dataclass
from html import escape
from typing import Any

import sympy

RELATIONS = ("≤", "≥")
_WRITTEN = {"·": "*", "²": "**2", "³": "**3", "⁴": "**4", "^": "**", "−": "-", "√": "sqrt"}
_FUNCTIONS: dict[str, Callable[..., Any]] = {
    "sqrt": lambda x: sympy.Pow(x, sympy.Rational(1, 2), evaluate=False),
    **{
        name: functools.partial(function, evaluate=False)
        for name, function in {
            "ln": sympy.log, "min": sympy.Min, "max": sympy.Max, "cos": sympy.cos,
            "coth": sympy.coth, "ceil": sympy.ceiling, "atan": sympy.atan, "abs": sympy.Abs,
        }.items()
    },
}  # fmt: skip


_NAMES = {"log": "ln", "Min": "min", "Max": "max", "ceiling": "ceil"}


class NoFormula(ValueError):
    """A text that is no formula."""


@dataclass(frozen=True)
class Formula:
    """Demand, and limit with the relation between them where the text has one."""

    demand: sympy.Expr
    relation: str = ""
    limit: sympy.Expr | None = None


def read(text: str) -> Formula:
    """Read a formula. Raises `NoFormula`."""
    relation = next((sign for sign in RELATIONS if sign in text), "")
    demand, _, limit = text.partition(relation) if relation else (text, "", "")
    return Formula(_side(demand), relation, _side(limit) if relation else None)


def value(side: sympy.Expr, inputs: Mapping[str, float]) -> float:
    """Evaluate one side with its inputs by name (SI). Raises `KeyError` for one that is missing."""
    return float(_function(side)(*(inputs[str(symbol)] for symbol in _ordered(side))))


def _ordered(side: sympy.Expr) -> list[sympy.Symbol]:
    return sorted(side.free_symbols, key=str)


@functools.lru_cache(1000)
def _function(side: sympy.Expr) -> Callable[..., float]:
    return sympy.lambdify(_ordered(side), side, "mpmath")


def _side(text: str) -> sympy.Expr:
    for sign, code in _WRITTEN.items():
        text = text.replace(sign, code)
    try:
        return _built(ast.parse(text.strip(), mode="eval").body)
    except (SyntaxError, ValueError, RecursionError, MemoryError, TypeError) as error:
        raise NoFormula(text) from error


def _built(node: ast.AST) -> sympy.Expr:
    """Expression of a syntax tree, nothing rearranged or cancelled."""
    match node:
        case ast.Constant(value=int() | float() as number) if not isinstance(number, bool):
            return sympy.Integer(number) if isinstance(number, int) else sympy.Float(number)
        case ast.Name(id="π"):
            return sympy.pi
        case ast.Name(id=name):
            return sympy.Symbol(name, real=True)
        case ast.UnaryOp(op=ast.USub(), operand=inner):
            return sympy.Mul(-1, _built(inner), evaluate=False)
        case ast.BinOp(left=left, op=op, right=right):
            return _joined(op, _built(left), _built(right))
        case ast.Call(func=ast.Name(id=name), args=[*inner], keywords=[]) if name in _FUNCTIONS:
            return _FUNCTIONS[name](*map(_built, inner))
    raise NoFormula(ast.dump(node))


def _joined(op: ast.operator, a: sympy.Expr, b: sympy.Expr) -> sympy.Expr:
    match op:
        case ast.Add():
            return sympy.Add(a, b, evaluate=False)
        case ast.Sub():
            return sympy.Add(a, sympy.Mul(-1, b, evaluate=False), evaluate=False)
        case ast.Mult():
            return sympy.Mul(a, b, evaluate=False)
        case ast.Div():
            return sympy.Mul(a, sympy.Pow(b, -1, evaluate=False), evaluate=False)
        case ast.Pow():
            return sympy.Pow(a, b, evaluate=False)
    raise NoFormula(type(op).__name__)


@dataclass(frozen=True)
class Language:
    """How a language of mathematics writes its pieces, as patterns to be filled in."""

    number: str
    letter: str
    word: str
    sub: str
    power: str
    fraction: str
    root: str
    group: str
    """Opening, inner part, closing."""
    sign: str
    between: str
    """Between pieces side by side."""
    escaped: Callable[[str], str]


@dataclass(frozen=True)
class Setter:
    """Sets expressions in a language."""

    language: Language

    def number(self, text: str) -> str:
        """Set a number."""
        return self.language.number.format(text)

    def name(self, text: str) -> str:
        """Set a letter, or a word upright."""
        alone = len(text) == 1 and text.isalpha()
        pattern = self.language.letter if alone else self.language.word
        return pattern.format(self.language.escaped(text))

    def sign(self, text: str) -> str:
        """Set a sign between pieces."""
        return self.language.sign.format(self.language.escaped(text))

    def row(self, parts: list[str]) -> str:
        """Set pieces side by side."""
        return self.language.between.join(parts)

    def group(self, inner: str, ends: str = "()") -> str:
        """Set something in brackets."""
        return self.language.group.format(ends[0], inner, ends[1])

    def formula(self, made: Formula) -> str:
        """Set demand, relation and limit."""
        if made.limit is None:
            return self.set(made.demand)
        return self.row([self.set(made.demand), self.sign(made.relation), self.set(made.limit)])

    def symbol(self, name: str) -> str:
        """Set a name with its subscript."""
        base, _, below = name.partition("_")
        if not below:
            return self.name(base)
        return self.language.sub.format(self.name(base), self.name(below.replace("_", ",")))

    def set(self, e: sympy.Expr, within: str = "sum") -> str:
        """Set an expression that stands in a sum, in a product, or as the base of a power."""
        if e.is_Symbol or e is sympy.pi:
            return self.symbol("π" if e is sympy.pi else str(e))
        if e.is_Number:
            text = f"{float(e):.10g}"
            return self.group(self.number(text)) if e.is_negative and within != "sum" \
                else self.number(text)  # fmt: skip
        if e.is_Add:
            text = self._sum(e)
            return text if within == "sum" else self.group(text)
        if e.is_Mul:
            text = self._product(e)
            inside = within == "base" or (within == "product" and e.args[0] == -1)
            return self.group(text) if inside else text
        if e.is_Pow:
            return self._power(e, within)
        return self._called(e)

    def _sum(self, e: sympy.Expr) -> str:
        parts: list[str] = []
        for term in _flat(e, sympy.Add):
            negative = term.is_Mul and term.args[0] == -1
            if negative:
                rest = (
                    term.args[1]
                    if len(term.args) == 2
                    else sympy.Mul(*term.args[1:], evaluate=False)
                )
                parts += [self.sign("−"), self.set(rest, "product")]
            else:
                parts += [*([self.sign("+")] if parts else []), self.set(term)]
        return self.row(parts)

    def _product(self, e: sympy.Expr) -> str:
        """Factors left to right; each divisor goes under those before it since the last one."""
        done: list[str] = []
        above: list[sympy.Expr] = []
        for factor in _flat(e, sympy.Mul):
            if factor.is_Pow and factor.exp == -1:
                top = self._factors(above) if above else self.number("1")
                done.append(self.language.fraction.format(top, self.set(factor.base)))
                above = []
            else:
                above.append(factor)
        if above:
            alone = not done and len(above) > 1
            done += [self._factors(above)] if alone else [self.set(f, "product") for f in above]
        return self.row(_between(done, self.sign("·")))

    def _factors(self, factors: list[sympy.Expr]) -> str:
        if len(factors) == 1:
            return self.set(factors[0])
        if factors[0] == -1:
            return self.row([self.sign("−"), self._factors(factors[1:])])
        return self.row(_between([self.set(f, "product") for f in factors], self.sign("·")))

    def _power(self, e: sympy.Expr, within: str) -> str:
        base, exponent = e.args
        if exponent == sympy.Rational(1, 2):
            return self.language.root.format(self.set(base))
        if exponent == -1:
            text = self.language.fraction.format(self.number("1"), self.set(base))
            return self.group(text) if within == "base" else text
        text = self.language.power.format(self.set(base, "base"), self.set(exponent))
        return self.group(text) if within == "base" else text

    def _called(self, e: sympy.Expr) -> str:
        inner = [self.set(arg) for arg in e.args]
        if isinstance(e, sympy.Abs):
            return self.group(inner[0], "||")
        name = {"log": "ln", "Min": "min", "Max": "max", "ceiling": "ceil"}.get(
            type(e).__name__, type(e).__name__
        )
        return self.row([self.name(name), self.group(self.row(_between(inner, self.sign(","))))])


def _quoted(text: str) -> str:
    return text.replace("\\", "\\\\").replace('"', '\\"')


_TYPST = Setter(Language(
    '"{}"', "{}", '"{}"', "attach({}, b: {})", "attach({}, t: {})", "frac({}, {})", "sqrt({})",
    "lr(\\{} {} \\{})", "{}", " ", lambda text: "\\," if text == "," else _quoted(text),
))  # fmt: skip
_MATHML = Setter(Language(
    "<mn>{}</mn>", "<mi>{}</mi>", "<mi>{}</mi>", "<msub>{}{}</msub>",
    "<msup><mrow>{}</mrow><mrow>{}</mrow></msup>", "<mfrac><mrow>{}</mrow><mrow>{}</mrow></mfrac>",
    "<msqrt>{}</msqrt>", "<mrow><mo>{}</mo>{}<mo>{}</mo></mrow>", "<mo>{}</mo>", "", escape,
))  # fmt: skip


def mathml(text: str) -> str:
    """A formula, or a symbol, as a MathML element; what is none stays text."""
    try:
        inner = _MATHML.formula(read(text))
    except NoFormula:
        inner = f"<mtext>{escape(text)}</mtext>"
    return f'<math displaystyle="true" aria-label="{escape(text, quote=True)}">{inner}</math>'


def typst(text: str) -> str:
    """The same in the mathematics of the typesetter."""
    try:
        return _TYPST.formula(read(text))
    except NoFormula:
        return f'"{_quoted(text)}"'


def _flat(e: sympy.Expr, kind: type[sympy.Expr]) -> list[sympy.Expr]:
    """Terms or factors of nested sums or products, as they were written."""
    if isinstance(e, kind):
        return [inner for arg in e.args for inner in _flat(arg, kind)]
    return [e]


def _between(parts: list[str], sign: str) -> list[str]:
    return [piece for part in parts for piece in (sign, part)][1:]
