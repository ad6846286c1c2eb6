"""The mutants of a module: its source, with one small change in each."""

from __future__ import annotations

import ast
from collections import Counter
from collections.abc import Iterator
from dataclasses import dataclass
from types import CodeType

from tests.mutants.changes import changes, forced

_WIDTH = 100
# What people read, and what only mypy and the machinery of classes read.
_PASSED_OVER = {"annotation", "returns", "decorator_list", "bases", "type_params", "args"}
_CONDITIONS = {"test", "ifs"}


@dataclass(frozen=True, slots=True, kw_only=True)
class Mutant:
    """A change of one place. ``name`` tells it apart from every other of its module and outlives moved lines."""

    function: str
    line: int
    name: str
    code: CodeType


def mutants_of(source: str, file: str) -> Iterator[Mutant]:
    """Every mutant of a module, from its first line to its last."""
    tree = ast.parse(source)
    seen: Counter[str] = Counter()
    for spot in _spots(tree, ""):
        before, line = spot.node, getattr(spot.node, "lineno", 0)
        for after in _instead(spot):
            name = f"{spot.function or 'module'}: {_told(before)} -> {_told(after)}"
            seen[name] += 1
            spot.put(after)
            code = compile(ast.fix_missing_locations(tree), file, "exec")
            spot.put(before)
            number = f" #{seen[name]}" if seen[name] > 1 else ""
            yield Mutant(function=spot.function, line=line, name=name + number, code=code)


@dataclass(frozen=True, slots=True)
class _Spot:
    """A place in the tree: the field of a node, or one of a list that the field holds."""

    owner: ast.AST
    field: str
    index: int | None
    node: ast.AST
    function: str

    def put(self, node: ast.AST) -> None:
        """Let another node stand here."""
        if isinstance(node, ast.stmt | ast.expr) and isinstance(self.node, ast.stmt | ast.expr):
            ast.copy_location(node, self.node)
        if self.index is None:
            setattr(self.owner, self.field, node)
        else:
            getattr(self.owner, self.field)[self.index] = node


def _instead(spot: _Spot) -> Iterator[ast.AST]:
    if spot.field in _CONDITIONS:
        yield from forced()
    if spot.field == "iter":
        yield ast.Tuple([], ast.Load())
    yield from changes(spot.node)


def _spots(owner: ast.AST, function: str) -> Iterator[_Spot]:
    inside = function
    if isinstance(owner, ast.FunctionDef | ast.ClassDef):
        inside = f"{function}.{owner.name}".lstrip(".")
    for field, value in list(ast.iter_fields(owner)):
        if field in _PASSED_OVER and not isinstance(owner, ast.Call):
            continue
        for index, node in enumerate(value) if isinstance(value, list) else [(None, value)]:
            if isinstance(node, ast.AST) and not _is_told(owner, field, node):
                yield _Spot(owner, field, index, node, inside)
                yield from _spots(node, inside)


def _is_told(owner: ast.AST, field: str, node: ast.AST) -> bool:
    """True for what is said to people, or exported: no verdict hangs on it."""
    if isinstance(node, ast.JoinedStr) or (
        isinstance(node, ast.Expr) and isinstance(node.value, ast.Constant)
    ):
        return True
    if isinstance(node, ast.keyword):
        return node.arg == "message"
    if isinstance(node, ast.Assign):
        return ast.unparse(node.targets[0]) in ("__all__", "_Thing", "_Owner", "_Piece", "Use", "Work")
    is_text = isinstance(node, ast.Constant) and isinstance(node.value, str)
    return is_text and isinstance(owner, ast.Expr | ast.Yield)


def _told(node: ast.AST) -> str:
    text = " ".join(ast.unparse(node).split())
    return text if len(text) <= _WIDTH else f"{text[:_WIDTH]}..."
