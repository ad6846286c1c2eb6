"""Whatever writes leaves its line in the record: every action there is, found by reading the program, called once."""

from __future__ import annotations

import ast
from collections.abc import Iterator
from importlib import import_module
from pathlib import Path

import pytest
from django.db.models import Max

from kitchen.audit.models import AuditEvent
from tests.kitchen.audit.calls.leaving import CALLS
from tests.kitchen.audit.calls.without import WITHOUT

for _module in ("people", "programs", "things", "days", "floor"):
    import_module(f"tests.kitchen.audit.calls.{_module}")

KITCHEN = Path(__file__).resolve().parents[3] / "kitchen"
TOOLS = {"audit", "backup", "bench", "demo", "drill", "management", "migrations"}
"""The record itself, and what fills, measures and saves whole databases."""
MESSAGES = {"tell", "plan_reminders", "schedule_reminders", "cancel_reminders"}
"""Lines of the messages that follow from what was done. They are counted where a call is about messages."""
WRITES = {"atomic", "record", "record_all"}


def calls_in(function: ast.FunctionDef) -> set[str]:
    """The last word of everything that it calls or is decorated with."""
    called = [node.func for node in ast.walk(function) if isinstance(node, ast.Call)]
    return {ast.unparse(one).rpartition(".")[2] for one in (*called, *function.decorator_list)}


def actions() -> Iterator[str]:
    """Every public function that opens a transaction or writes in the record, by module and name."""
    for file in sorted(KITCHEN.rglob("*.py")):
        path = file.relative_to(KITCHEN)
        if TOOLS & {*path.parts}:
            continue
        tree = ast.parse(file.read_text())
        asides = {
            alias.asname
            for node in ast.walk(tree)
            if isinstance(node, ast.ImportFrom)
            for alias in node.names
            if alias.name in WRITES and alias.asname
        }
        functions = [node for node in tree.body if isinstance(node, ast.FunctionDef)]
        for one in functions:
            if not one.name.startswith("_") and calls_in(one) & (WRITES | asides):
                yield f"{'.'.join(path.with_suffix('').parts)}.{one.name}"


def test_every_action_is_called_or_excused() -> None:
    """An action that nobody listed fails here; so does one that is listed and no longer there."""
    found = {*actions()}
    assert not {*CALLS} & {*WITHOUT}
    listed = {*CALLS} | {*WITHOUT}
    assert (sorted(found - listed), sorted(listed - found)) == ([], [])
    assert all(WITHOUT.values())


@pytest.mark.django_db
@pytest.mark.parametrize("action", CALLS)
def test_each_leaves_its_line(action: str) -> None:
    deed = CALLS[action].prepared()
    newest = AuditEvent.objects.aggregate(newest=Max("pk"))["newest"] or 0
    deed()
    lines = AuditEvent.objects.filter(pk__gt=newest).order_by("pk").values_list("action", flat=True)
    expected = CALLS[action].lines
    assert tuple(line for line in lines if line not in MESSAGES - {*expected}) == expected
