"""The words for people in Python code: its sentences, with numbered places for their values, and its gettext calls."""

from __future__ import annotations

import ast
import re
from collections.abc import Iterator
from dataclasses import dataclass
from pathlib import Path

PROJECT = Path(__file__).resolve().parent.parent.parent

# What is worded for whoever sets the program up, for its log or for developers: not for people in a kitchen.
NOT_FOR_PEOPLE = (
    "kitchen/__main__.py",
    "kitchen/api/base/",
    "kitchen/api/errors.py",
    "kitchen/api/v1/",
    "kitchen/apps.py",
    "kitchen/audit/",
    "kitchen/backup/",
    "kitchen/bench/",
    "kitchen/celery.py",
    "kitchen/configuration/",
    "kitchen/demo/",
    "kitchen/drill/",
    "kitchen/hints.py",
    "kitchen/http/headers.py",
    "kitchen/language/",
    "kitchen/metrics.py",
    "kitchen/one_kitchen.py",
    "kitchen/planning/day_text.py",
    "kitchen/prepared.py",
    "kitchen/readiness.py",
    "kitchen/reminders/mail.py",
    "kitchen/serve/",
    "kitchen/settings.py",
    "scheduler/__main__.py",
    "scheduler/came_to_bear.py",
    "scheduler/day_refusal.py",
    "scheduler/commands/",
    "scheduler/compiled.py",
    "scheduler/core/",
    "scheduler/day_file.py",
    "scheduler/day_tables.py",
    "scheduler/day_times.py",
    "scheduler/day_writing.py",
    "scheduler/disruptions.py",
    "scheduler/every_feature.py",
    "scheduler/floor_file.py",
    "scheduler/floor.py",
    "scheduler/generator.py",
    "scheduler/interval.py",
    "scheduler/jars.py",
    "scheduler/made_up_wishes.py",
    "scheduler/oven_file.py",
    "scheduler/packing.py",
    "scheduler/plan_file.py",
    "scheduler/random_rotas.py",
    "scheduler/records_file.py",
    "scheduler/rota/fewest",
    "scheduler/rota/question.py",
    "scheduler/staffing_file.py",
    "scheduler/tables/",
    "scheduler/toml_lines.py",
    "scheduler/wall_clock.py",
    "scheduler/what_if/edits.py",
)
# Headers, queries, formats of dates and drawings.
_TECHNICAL = re.compile(
    r"(?:at )?what (?:value|who)|D j M|attachment;|text/|private,|SELECT |BEGIN |-//|%|<"
    r"|M\d|fill=|\{1\}-title|font-|text-anchor|\{ from|USDA |MSU |IAFP "
)
_NOT_WORDS = {
    "split",
    "new_bool_var",
    "new_int_var",
    "new_interval_var",
    "new_optional_interval_var",
    "new_fixed_size_interval_var",
    "new_optional_fixed_size_interval_var",
    "gettext",
    "gettext_lazy",
    "ngettext",
    "pgettext",
    "_",
    "compile",
    "CheckConstraint",
    "TypeVar",
}
_LOGGING = {"debug", "info", "warning", "exception"}
_SHOWN = {"label", "empty_label", "help_text", "title"}
_GETTEXT = {"gettext", "gettext_lazy", "_"}


@dataclass(frozen=True, slots=True, order=True)
class Sentence:
    """Words as they stand in the catalog, where they are from, and what the numbered values are."""

    words: str
    module: str
    values: tuple[str, ...] = ()


def modules() -> list[Path]:
    """The modules that word something for people."""
    found = [path for root in ("kitchen", "scheduler") for path in sorted((PROJECT / root).rglob("*.py"))]
    return [path for path in found if _is_for_people(path.relative_to(PROJECT).as_posix())]


def sentences(path: Path) -> Iterator[Sentence]:
    """Every string of a module that looks like words."""
    yield from sentences_in(path.read_text(), path.relative_to(PROJECT).as_posix())


def sentences_in(source: str, module: str) -> Iterator[Sentence]:
    """Every string of this source that looks like words."""
    tree = ast.parse(source)
    skipped = {id(node) for one in ast.walk(tree) for node in _not_words(one)}
    for node in ast.walk(tree):
        if id(node) in skipped:
            continue
        if isinstance(node, ast.JoinedStr):
            found = _with_places(node)
            if _are_words(found[0]):
                yield Sentence(found[0], module, found[1])
        elif isinstance(node, ast.Constant) and isinstance(node.value, str) and _are_words(node.value):
            yield Sentence(node.value, module)
        elif isinstance(node, ast.ClassDef) and any("Choices" in ast.unparse(base) for base in node.bases):
            yield from _labels(node, module)
        elif isinstance(node, ast.keyword) and node.arg in _SHOWN and isinstance(node.value, ast.Constant):
            yield Sentence(str(node.value.value), module)


def gettext_calls(path: Path) -> Iterator[tuple[str, str | None]]:
    """The literal arguments of gettext calls, each with its plural."""
    for node in ast.walk(ast.parse(path.read_text())):
        if not isinstance(node, ast.Call) or not node.args:
            continue
        name = _name(node.func)
        texts = [
            one.value for one in node.args if isinstance(one, ast.Constant) and isinstance(one.value, str)
        ]
        if name in _GETTEXT and texts:
            yield texts[0], None
        elif name in {"ngettext", "ngettext_lazy"} and len(texts) > 1:
            yield texts[0], texts[1]


def _is_for_people(name: str) -> bool:
    inside = ("/migrations/", "/management/", "/admin.py")
    return not name.startswith(NOT_FOR_PEOPLE) and not any(one in name for one in inside)


def _labels(node: ast.ClassDef, module: str) -> Iterator[Sentence]:
    """The labels of an enumeration that Django shows."""
    for one in node.body:
        if isinstance(one, ast.Assign) and isinstance(one.value, ast.Tuple):
            label = one.value.elts[-1]
            if isinstance(label, ast.Constant) and isinstance(label.value, str):
                yield Sentence(label.value, module)


def _with_places(node: ast.JoinedStr) -> tuple[str, tuple[str, ...]]:
    """An f-string with numbers for its values, and the values as code."""
    words, values = "", []
    for one in node.values:
        if isinstance(one, ast.Constant):
            words += str(one.value)
        elif isinstance(one, ast.FormattedValue):
            values.append(ast.unparse(one.value))
            words += f"{{{len(values)}}}"
    return words, tuple(values)


def _are_words(text: str) -> bool:
    """True for two words or more, or for one with a space beside it."""
    return " " in text.strip() and sum(map(str.isalpha, text)) > 1 and not _TECHNICAL.match(text)


def _not_words(node: ast.AST) -> Iterator[ast.AST]:
    """The strings below this node that nobody in a kitchen reads: its docstring, its own parts, what is logged."""
    if isinstance(node, ast.Expr) and isinstance(node.value, ast.Constant):
        yield node.value
    if isinstance(node, ast.JoinedStr):
        yield from node.values  # Its own words are one sentence; strings within its values stand for themselves.
    if isinstance(node, ast.FormattedValue) and node.format_spec is not None:
        yield from ast.walk(node.format_spec)
    if isinstance(node, ast.Call) and (_name(node.func) in _NOT_WORDS or _logs(node.func)):
        yield from ast.walk(node)
    if isinstance(node, ast.Assert) and node.msg is not None:
        yield from ast.walk(node.msg)


def _name(function: ast.expr) -> str:
    return function.attr if isinstance(function, ast.Attribute) else getattr(function, "id", "")


def _logs(function: ast.expr) -> bool:
    return (
        isinstance(function, ast.Attribute)
        and function.attr in _LOGGING
        and ast.unparse(function.value) == "log"
    )
