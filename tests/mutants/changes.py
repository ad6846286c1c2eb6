"""Small changes of a syntax tree, of which each makes a check slightly wrong."""

from __future__ import annotations

import ast
from collections.abc import Iterator
from functools import singledispatch

_COMPARED: dict[type[ast.cmpop], type[ast.cmpop]] = {
    ast.Lt: ast.LtE,
    ast.LtE: ast.Lt,
    ast.Gt: ast.GtE,
    ast.GtE: ast.Gt,
    ast.Eq: ast.NotEq,
    ast.NotEq: ast.Eq,
    ast.Is: ast.IsNot,
    ast.IsNot: ast.Is,
    ast.In: ast.NotIn,
    ast.NotIn: ast.In,
}
_RECKONED: dict[type[ast.operator], type[ast.operator]] = {
    ast.Add: ast.Sub,
    ast.Sub: ast.Add,
    ast.Mult: ast.Div,
    ast.Div: ast.Mult,
    ast.Pow: ast.Mult,
    ast.BitOr: ast.BitAnd,
    ast.BitAnd: ast.BitOr,
}
_CALLED = {"min": "max", "max": "min", "any": "all", "all": "any", "sorted": "list"}
_ENDS = {"start": "end", "end": "start"}
_CERTAIN = (ast.Compare, ast.BoolOp)


@singledispatch
def changes(node: ast.AST) -> Iterator[ast.AST]:
    """What may stand in the place of ``node``, one thing changed in each; nothing for most kinds of nodes."""
    yield from ()


def forced() -> Iterator[ast.expr]:
    """What may stand in the place of a condition."""
    yield ast.Constant(True)
    yield ast.Constant(False)


@changes.register
def _(node: ast.Compare) -> Iterator[ast.AST]:
    for index, operator in enumerate(node.ops):
        other = _COMPARED[type(operator)]()
        yield ast.Compare(node.left, [*node.ops[:index], other, *node.ops[index + 1 :]], node.comparators)


@changes.register
def _(node: ast.BinOp) -> Iterator[ast.AST]:
    if type(node.op) in _RECKONED:
        yield ast.BinOp(node.left, _RECKONED[type(node.op)](), node.right)


@changes.register
def _(node: ast.BoolOp) -> Iterator[ast.AST]:
    yield ast.BoolOp(ast.Or() if isinstance(node.op, ast.And) else ast.And(), node.values)
    for left in _each_left_out(node.values):
        yield left[0] if len(left) == 1 else ast.BoolOp(node.op, left)


@changes.register
def _(node: ast.UnaryOp) -> Iterator[ast.AST]:
    yield node.operand


@changes.register
def _(node: ast.IfExp) -> Iterator[ast.AST]:
    yield node.body
    yield node.orelse


@changes.register
def _(node: ast.Constant) -> Iterator[ast.AST]:
    if isinstance(node.value, bool):
        yield ast.Constant(not node.value)
    elif isinstance(node.value, int):
        yield ast.Constant(node.value + 1)
        yield ast.Constant(node.value - 1)
    elif isinstance(node.value, float):
        yield ast.Constant(node.value + 1)
        yield ast.Constant(0.0)
    elif isinstance(node.value, str):
        yield ast.Constant(f"{node.value}?")


@changes.register
def _(node: ast.Attribute) -> Iterator[ast.AST]:
    if node.attr in _ENDS and isinstance(node.ctx, ast.Load):
        yield ast.Attribute(node.value, _ENDS[node.attr], node.ctx)


@changes.register
def _(node: ast.Call) -> Iterator[ast.AST]:
    if isinstance(node.func, ast.Name) and node.func.id in _CALLED:
        # A list cannot be made with a key; the order is dropped with it.
        kept = [] if node.func.id == "sorted" else node.keywords
        yield ast.Call(ast.Name(_CALLED[node.func.id], ast.Load()), node.args, kept)
        if node.func.id in ("min", "max") and len(node.args) > 1:
            yield from node.args
    for index, keyword in enumerate(node.keywords):
        if keyword.arg != "message":
            yield ast.Call(node.func, node.args, [*node.keywords[:index], *node.keywords[index + 1 :]])


@changes.register
def _(node: ast.Tuple) -> Iterator[ast.AST]:
    if isinstance(node.ctx, ast.Load):
        for left in _each_left_out(node.elts):
            yield ast.Tuple(left, node.ctx)


@changes.register
def _(node: ast.List) -> Iterator[ast.AST]:
    for left in _each_left_out(node.elts):
        yield ast.List(left, node.ctx)


@changes.register
def _(node: ast.Set) -> Iterator[ast.AST]:
    if len(node.elts) > 1:
        for left in _each_left_out(node.elts):
            yield ast.Set(left)


@changes.register
def _(node: ast.Dict) -> Iterator[ast.AST]:
    for index in range(len(node.keys)):
        yield ast.Dict(
            [*node.keys[:index], *node.keys[index + 1 :]], [*node.values[:index], *node.values[index + 1 :]]
        )


@changes.register
def _(node: ast.Return) -> Iterator[ast.AST]:
    if node.value is None:
        yield ast.Pass()
        return
    if isinstance(node.value, _CERTAIN):
        yield from (ast.Return(value) for value in forced())
    # Nothing is as false as False.
    elif not (isinstance(node.value, ast.Constant) and node.value.value in (None, False)):
        yield ast.Return(ast.Constant(None))


@changes.register
def _(node: ast.Expr) -> Iterator[ast.AST]:
    yield ast.Pass()


@changes.register
def _(node: ast.Continue) -> Iterator[ast.AST]:
    yield ast.Pass()


@changes.register
def _(node: ast.Break) -> Iterator[ast.AST]:
    yield ast.Pass()


@changes.register
def _(node: ast.AugAssign) -> Iterator[ast.AST]:
    yield ast.Pass()
    if type(node.op) in _RECKONED:
        yield ast.AugAssign(node.target, _RECKONED[type(node.op)](), node.value)


@changes.register
def _(node: ast.Assign) -> Iterator[ast.AST]:
    if isinstance(node.targets[0], ast.Subscript):
        yield ast.Pass()


def _each_left_out(values: list[ast.expr]) -> Iterator[list[ast.expr]]:
    for index in range(len(values)):
        yield [*values[:index], *values[index + 1 :]]
