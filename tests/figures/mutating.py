"""Mutations of source text: each a small error that a program could have, put in one place.

Signs, factors, boundaries, dropped terms, swapped arguments, a neighbour in place of what is meant.
Left alone is what is no part of a result: texts, annotations, decorators, what is raised, logged or
reported, clocks, `strict`, and tolerances below 1e-5, within which equal and nearly equal are the
same.
"""

from __future__ import annotations

import ast
import re
from collections.abc import Iterator
from dataclasses import dataclass
from pathlib import Path

TINY = 1e-5
FACTOR = 1.2
OUTSIDE = {
    "pictures", "page", "console", "report", "cli", "tables", "drafting", "drawings", ".package",
}  # fmt: skip
"""Parts of a path that is not of the core: pages, what is drawn on sheets, tables."""
COMPARED = {
    ast.Lt: ("<", "<="), ast.LtE: ("<=", "<"), ast.Gt: (">", ">="), ast.GtE: (">=", ">"),
    ast.Eq: ("==", "!="), ast.NotEq: ("!=", "=="),
}  # fmt: skip
SIGNS = {ast.Add: ("+", "-"), ast.Sub: ("-", "+")}
FACTORS = {ast.Mult: ("*", "/"), ast.Div: ("/", "*"), ast.Pow: ("**", "*")}
OTHER = {
    "min": "max", "max": "min", "any": "all", "all": "any", "minimum": "maximum",
    "maximum": "minimum", "floor": "ceil", "ceil": "floor", "sin": "cos", "cos": "sin",
    "argmin": "argmax", "argmax": "argmin",
}  # fmt: skip
EITHER_WAY = {
    "min", "max", "hypot", "minimum", "maximum", "isclose", "allclose", "multiply", "add", "zip",
    "isinstance", "union", "logical_and", "logical_or",
}  # fmt: skip
"""Functions whose arguments may be swapped."""
TALK = re.compile(r"\b(note|log|logger|report|warn|print|debug|info|print_error|describe)$")
CLOCKS = re.compile(r"perf_counter|monotonic|time\.time|sleep|timeout|TYPE_CHECKING|__name__")


@dataclass(frozen=True)
class Mutation:
    """One change of a file: bytes from `start` to `end` become `new`."""

    path: str
    where: str
    line: int
    kind: str
    start: int
    end: int
    new: str
    before: str
    after: str
    names: tuple[str, ...] = ()
    """Names by which to find tests, where the line is not seen to run.

    Of what runs while the module is imported, what it is assigned to; of what is compiled, the
    function and those that call it.
    """

    @property
    def key(self) -> str:
        """Tells it from others wherever its lines have moved to."""
        return " | ".join((self.path, self.where, self.before, self.after))

    def applied(self, text: bytes) -> bytes:
        """The whole file with it."""
        return text[: self.start] + self.new.encode() + text[self.end :]

    def is_valid(self, text: bytes) -> bool:
        """Whether the file with it is one that Python reads, and means something else."""
        try:
            after = ast.parse(self.applied(text))
        except SyntaxError:
            return False
        return ast.dump(after) != ast.dump(ast.parse(text))


def core(root: Path) -> list[Path]:
    """Modules of the core, as paths below the root."""
    found = (p for part in ("fea", "geometry") for p in (root / part).rglob("*.py"))
    own = (p.relative_to(root) for p in found)
    return sorted(p for p in own if not OUTSIDE & set(p.parts) and p.name != "__init__.py")


def mutations(root: Path, path: Path) -> list[Mutation]:
    """All mutations proposed for a module; of some what comes out is not valid."""
    return list(_Finder(str(path), (root / path).read_bytes()).found())


class _Finder:
    """Walks a module and proposes changes."""

    def __init__(self, path: str, text: bytes):
        self.path, self.text = path, text
        self.lines = [0]
        for line in text.splitlines(keepends=True):
            self.lines.append(self.lines[-1] + len(line))
        self.where: list[str] = []
        self.statement: ast.stmt | None = None
        self.neighbours: list[dict[str, str]] = [{}]
        self.fields: list[dict[str, str]] = [{}]
        self.unseen = _compiled(ast.parse(text)) | _run_at_import(ast.parse(text))

    def at(self, line: int, column: int) -> int:
        return self.lines[line - 1] + column

    def span(self, node: ast.expr) -> tuple[int, int]:
        end_line, end_column = node.end_lineno or 0, node.end_col_offset or 0
        return self.at(node.lineno, node.col_offset), self.at(end_line, end_column)

    def found(self) -> Iterator[Mutation]:
        seen = set()
        for mutation in self.block(ast.parse(self.text).body):
            if mutation.key in seen or mutation.before == mutation.after:
                continue
            seen.add(mutation.key)
            yield mutation

    def block(self, body: list[ast.stmt]) -> Iterator[Mutation]:
        for statement in body:
            yield from self.stmt(statement)

    def stmt(self, node: ast.stmt) -> Iterator[Mutation]:
        if isinstance(node, ast.Import | ast.ImportFrom | ast.Raise | ast.Assert | ast.Pass):
            return
        if isinstance(node, ast.FunctionDef | ast.AsyncFunctionDef):
            yield from self.function(node)
        elif isinstance(node, ast.ClassDef):
            self.where.append(node.name)
            fields = [n for n in node.body if isinstance(n, ast.AnnAssign)]
            self.fields.append(_next([(n.target.id, ast.unparse(n.annotation)) for n in fields
                                      if isinstance(n.target, ast.Name)]))  # fmt: skip
            yield from self.block(node.body)
            self.fields.pop()
            self.where.pop()
        else:
            self.statement = node
            if isinstance(node, ast.AugAssign) and type(node.op) in SIGNS:
                old, new = SIGNS[type(node.op)]
                low = self.span(node.target)[1] if isinstance(node.target, ast.expr) else 0
                yield from self.gap(low, self.span(node.value)[0], f"{old}=", f"{new}=", "sign")
            for name, value in ast.iter_fields(node):
                if name == "annotation" or _text(value):
                    continue
                for one in value if isinstance(value, list) else [value]:
                    self.statement = node
                    if isinstance(one, ast.stmt):
                        yield from self.stmt(one)
                    elif isinstance(one, ast.ExceptHandler | ast.match_case):
                        yield from self.block(one.body)
                    elif isinstance(one, ast.withitem):
                        yield from self.expr(one.context_expr)
                    elif isinstance(one, ast.expr):
                        yield from self.expr(one)

    def function(self, node: ast.FunctionDef | ast.AsyncFunctionDef) -> Iterator[Mutation]:
        self.where.append(node.name)
        every = [*node.args.posonlyargs, *node.args.args, *node.args.kwonlyargs]
        pairs = [(a.arg, ast.unparse(a.annotation)) for a in every if a.annotation]
        self.neighbours.append(_next(pairs))
        self.statement = node
        for default in [*node.args.defaults, *(d for d in node.args.kw_defaults if d)]:
            yield from self.expr(default)
        yield from self.block(node.body)
        self.neighbours.pop()
        self.where.pop()

    def expr(self, node: ast.AST) -> Iterator[Mutation]:
        """Changes in an expression and in all below it."""
        if isinstance(node, ast.JoinedStr):
            return
        if isinstance(node, ast.Call):
            called = ast.unparse(node.func)
            if TALK.search(called) or CLOCKS.search(called) or called.endswith(("Error", "Soft")):
                return
            yield from self.call(node, called.rpartition(".")[2])
        elif isinstance(node, ast.BinOp):
            if CLOCKS.search(ast.unparse(node)):
                return
            yield from self.binary(node)
        elif isinstance(node, ast.Compare):
            yield from self.compare(node)
        elif isinstance(node, ast.BoolOp):
            old, new = ("and", "or") if isinstance(node.op, ast.And) else ("or", "and")
            for left, right in zip(node.values, node.values[1:], strict=False):
                yield from self.gap(self.span(left)[1], self.span(right)[0], old, new, "and/or")
        elif isinstance(node, ast.UnaryOp) and isinstance(node.op, ast.USub | ast.Not):
            start, end = self.span(node)
            sign = isinstance(node.op, ast.USub)
            rest = self.text[start + (1 if sign else 3) : end].decode()
            yield self.change("sign" if sign else "not", start, end, rest.lstrip())
        elif isinstance(node, ast.Constant):
            yield from self.constant(node)
        elif isinstance(node, ast.Name) and isinstance(node.ctx, ast.Load):
            if node.id in self.neighbours[-1]:
                yield self.change("neighbour", *self.span(node), self.neighbours[-1][node.id])
        elif isinstance(node, ast.Attribute) and isinstance(node.value, ast.Name):
            if node.value.id == "self" and node.attr in self.fields[-1]:
                new = f"self.{self.fields[-1][node.attr]}"
                yield self.change("neighbour", *self.span(node), new)
        elif isinstance(node, ast.IfExp):
            start, end = self.span(node)
            low, high = self.span(node.body)[1], self.span(node.test)[0]
            cut = self.find(low, high, "if")
            if cut:
                yield self.change("dropped", start, end, self.text[start:cut].decode().rstrip())
        for child in ast.iter_child_nodes(node):
            if isinstance(child, ast.keyword) and child.arg == "strict":
                continue
            if isinstance(child, ast.expr | ast.comprehension | ast.keyword):
                yield from self.expr(child)

    def binary(self, node: ast.BinOp) -> Iterator[Mutation]:
        texts = (ast.Constant, ast.JoinedStr)
        if any(isinstance(n, texts) and not _number(n) for n in (node.left, node.right)):
            return
        kind = type(node.op)
        old, new = SIGNS.get(kind) or FACTORS.get(kind) or ("", "")
        if not old:
            return
        start, end = self.span(node)
        low, high = self.span(node.left)[1], self.span(node.right)[0]
        name = "sign" if kind in SIGNS else "factor"
        yield from self.gap(low, high, old, new, name)
        cut = self.find(low, high, old)
        if cut is None or kind is ast.Pow:
            return
        yield self.change("dropped", start, end, self.text[start:cut].decode().rstrip())
        if kind in (ast.Add, ast.Mult):
            rest = self.text[cut + len(old) : end].decode().lstrip()
            yield self.change("dropped", start, end, rest)

    def compare(self, node: ast.Compare) -> Iterator[Mutation]:
        sides = [node.left, *node.comparators]
        for left, op, right in zip(sides, node.ops, node.comparators, strict=False):
            if type(op) not in COMPARED:
                continue
            old, new = COMPARED[type(op)]
            equal = isinstance(op, ast.Eq | ast.NotEq)
            if not equal and any(_tiny(side) for side in (left, right)):
                continue
            low, high = self.span(left)[1], self.span(right)[0]
            yield from self.gap(low, high, old, new, "boundary")

    def call(self, node: ast.Call, name: str) -> Iterator[Mutation]:
        if name in OTHER:
            start, end = self.span(node.func)
            text = self.text[start:end].decode()
            yield self.change("other", start, end, text[: -len(name)] + OTHER[name])
        for left, right in zip(node.args, node.args[1:], strict=False):
            if name in EITHER_WAY or _text(left) or _text(right):
                continue
            (a, b), (c, d) = self.span(left), self.span(right)
            if isinstance(left, ast.Starred | ast.GeneratorExp | ast.Lambda):
                continue
            if isinstance(right, ast.Starred | ast.GeneratorExp | ast.Lambda):
                continue
            parts = self.text[c:d], self.text[b:c], self.text[a:b]
            if b"(" not in parts[1] and b")" not in parts[1]:
                yield self.change("swapped", a, d, b"".join(parts).decode())

    def constant(self, node: ast.Constant) -> Iterator[Mutation]:
        value = node.value
        if isinstance(value, bool):
            yield self.change("not", *self.span(node), str(not value))
        elif isinstance(value, int):
            yield self.change("boundary", *self.span(node), str(value + 1))
        elif isinstance(value, float) and not 0 < abs(value) < TINY:
            new = f"{FACTOR * value:.6g}" if value else "1.0"
            yield self.change("factor", *self.span(node), new)

    def find(self, low: int, high: int, old: str) -> int | None:
        place = self.text[low:high].find(old.encode())
        return None if place < 0 or b"#" in self.text[low:high] else low + place

    def gap(self, low: int, high: int, old: str, new: str, kind: str) -> Iterator[Mutation]:
        place = self.find(low, high, old)
        if place is not None:
            yield self.change(kind, place, place + len(old), new)

    def change(self, kind: str, start: int, end: int, new: str) -> Mutation:
        line = self.text.count(b"\n", 0, start) + 1
        first, last = self.lines[line - 1], self.text.find(b"\n", end)
        last = len(self.text) if last < 0 else last
        before = self.text[first:last].decode()
        after = (self.text[first:start] + new.encode() + self.text[end:last]).decode()
        names: tuple[str, ...] = ()
        if not any(part[:1].islower() or part[:1] == "_" for part in self.where):
            names = tuple(_targets(self.statement)) or tuple(self.where[-1:])
        elif self.where[0] in self.unseen:
            names = self.unseen[self.where[0]]
        return Mutation(
            self.path, ".".join(self.where), line, kind, start, end, new,
            " ".join(before.split()), " ".join(after.split()), names,
        )  # fmt: skip


def _next(pairs: list[tuple[str, str]]) -> dict[str, str]:
    """Each name's next neighbour of the same type, for types of quantities."""
    after: dict[str, str] = {}
    for kind in ("float", "int", "np.ndarray", "FloatArray"):
        names = [name for name, own in pairs if own == kind]
        if len(names) > 1:
            after |= dict(zip(names, [*names[1:], names[0]], strict=True))
    return after


def _compiled(module: ast.Module) -> dict[str, tuple[str, ...]]:
    """Each compiled function of a module, and the compiled ones that lead to it."""
    uses = {
        node.name: {one.id for one in ast.walk(node) if isinstance(one, ast.Name)}
        for node in module.body
        if isinstance(node, ast.FunctionDef) and any(map(_compiles, node.decorator_list))
    }
    found: dict[str, tuple[str, ...]] = {}
    for name in uses:
        leading = {name}
        while more := {one for one in uses if uses[one] & leading} - leading:
            leading |= more
        found[name] = tuple(sorted(leading))
    return found


def _run_at_import(module: ast.Module) -> dict[str, tuple[str, ...]]:
    """Each function that is called while its module is imported, and what its value is named."""
    own = {node.name for node in module.body if isinstance(node, ast.FunctionDef)}
    return {
        call.func.id: (call.func.id, *_targets(node))
        for node in module.body if isinstance(node, ast.Assign | ast.AnnAssign)
        for call in ast.walk(node)
        if isinstance(call, ast.Call) and isinstance(call.func, ast.Name) and call.func.id in own
    }  # fmt: skip


def _compiles(decorator: ast.expr) -> bool:
    return ast.unparse(decorator) == "kernel"


def _targets(node: ast.stmt | None) -> Iterator[str]:
    if isinstance(node, ast.Assign | ast.AnnAssign):
        for target in node.targets if isinstance(node, ast.Assign) else [node.target]:
            for name in ast.walk(target):
                if isinstance(name, ast.Name):
                    yield name.id


def _text(node: object) -> bool:
    return isinstance(node, ast.JoinedStr) or (
        isinstance(node, ast.Constant) and isinstance(node.value, str | bytes)
    )


def _number(node: ast.AST) -> bool:
    return isinstance(node, ast.Constant) and isinstance(node.value, int | float)


def _tiny(node: ast.AST) -> bool:
    value = getattr(node, "value", None)
    return isinstance(value, float) and 0 < abs(value) < TINY
