"""Saying what is wrong with a day file: the line, the words of the file, and what to write instead."""

from __future__ import annotations

from collections.abc import Iterator, Mapping, Sequence
from contextlib import contextmanager
from difflib import SequenceMatcher
from enum import StrEnum
from typing import Any, get_args

from pydantic import BaseModel, ValidationError
from pydantic_core import ErrorDetails

from scheduler.errors import BadDayFile, SchedulerError
from scheduler.toml_lines import Path, TomlLines

# Share of letters that must agree before a key is offered as "did you mean"; a matter of taste.
_LEAST_LIKENESS = 0.6
_PART_SHARE = 0.95

_REMEDIES: Mapping[str, str] = {
    "string_type": 'Write it as text in quotes; a time as "09:30".',
    "float_type": "Write a number, without quotes.",
    "finite_number": "Write an ordinary number.",
    "int_type": "Write a whole number, without quotes.",
    "int_from_float": "Write a whole number, without quotes.",
    "bool_type": "Write true or false, without quotes.",
    "date_type": "Write a date without quotes, for instance 2026-09-05.",
    "list_type": "Write it as a list, in [ ].",
    "dict_type": "Write it as a table, for instance {{ pint = 8 }}.",
    "string_pattern_mismatch": "Use letters, digits, hyphens, dots and underscores, without spaces.",
    "string_too_short": "Write at least one letter.",
    "string_too_long": "Write it shorter: at most {max_length} letters.",
    "greater_than": "Give a number above {gt:g}.",
    "greater_than_equal": "Give a number from {ge:g} up.",
    "less_than": "Give a number below {lt:g}.",
    "less_than_equal": "Give a number up to {le:g}.",
}


@contextmanager
def refused_at(lines: TomlLines, path: Path) -> Iterator[None]:
    """Turns a refusal inside into ``BadDayFile`` with the line of ``path``; one that has its line passes through."""
    try:
        yield
    except BadDayFile:
        raise
    except SchedulerError as refusal:
        raise at_line(lines.line(path), refusal.message, refusal.remedy) from refusal


def at_line(line: int, message: str, remedy: str) -> BadDayFile:
    """The refusal, its message led by the line."""
    return BadDayFile(f"Line {line}: {message}", remedy=remedy, line=line)


def first_refusal(error: ValidationError, tables: type[BaseModel], lines: TomlLines) -> BadDayFile:
    """What stands first in the file among the values of a wrong type and the unknown keys, then the missing ones.

    A missing key comes last because it is mostly a known one, misspelt.
    """
    found = sorted(
        error.errors(include_url=False), key=lambda one: (one["type"] == "missing", lines.line(one["loc"]))
    )
    message, remedy = _explain(found[0], tables)
    return at_line(lines.line(found[0]["loc"]), message, remedy)


def _explain(error: ErrorDetails, tables: type[BaseModel]) -> tuple[str, str]:
    kind, path = error["type"], error["loc"]
    if kind == "extra_forbidden":
        return _unknown_key(path, tables)
    if kind == "missing":
        return f"{_where(path[:-1])} has no {path[-1]}.", _missing_remedy(path)
    if kind == "too_short":
        return f"There is no [[{path[-1]}]].", f"List at least one [[{path[-1]}]]."
    if len(path) == 1 or (len(path) == 2 and isinstance(path[1], int)):
        name = path[0]
        brackets = f"[{name}]" if _is_single(name, tables) else f"[[{name}]]"
        return f"{name} is not written as a table.", f"Begin it with a line {brackets}."
    value = _shown(error["input"])
    if kind == "is_instance_of":
        choices = _choices(path, tables)
        what = f"a key of {_where(path[:-2])}" if path[-1] == "[key]" else _named(path)
        return f"{value} is not known as {what}.", f"Choose one of {', '.join(choices)}."
    remedy = _REMEDIES.get(kind)
    return (
        f"{_named(path)} is {value}.",
        remedy.format(**error.get("ctx", {})) if remedy else f"{error['msg']}.",
    )


def _unknown_key(path: Path, tables: type[BaseModel]) -> tuple[str, str]:
    key, known = str(path[-1]), _keys(_model_at(path[:-1], tables))
    nearest = max(known, key=lambda one: _likeness(key, one))
    message = f"{_where(path[:-1])} has no key {key!r}."
    if _likeness(key, nearest) >= _LEAST_LIKENESS:
        return message, f"Did you mean {nearest!r}?"
    return message, f"Known here: {', '.join(known)}."


def _missing_remedy(path: Path) -> str:
    if len(path) == 1:
        return f"Add a table for it: [{path[0]}] or [[{path[0]}]], as the example days have it."
    return f"Add a line {path[-1]} = ... to it."


def _where(path: Path) -> str:
    """``[[batch]] 2``, ``[kitchen]``, or ``[[person]] 1, hours 2``; entries count from 1."""
    if not path:
        return "The file"
    if len(path) == 1:
        return f"[{path[0]}]"
    if isinstance(path[1], int):
        head, rest = f"[[{path[0]}]] {path[1] + 1}", path[2:]
    else:
        head, rest = f"[{path[0]}]", path[1:]
    inner = " ".join(str(part + 1) if isinstance(part, int) else part for part in rest)
    return f"{head}, {inner}" if inner else head


def _named(path: Path) -> str:
    return f"{path[-1]} of {_where(path[:-1])}" if isinstance(path[-1], str) else _where(path)


def _shown(value: object) -> str:
    text = f"{value}" if not isinstance(value, str) else repr(value)
    text = {"True": "true", "False": "false"}.get(text, text)
    return text if len(text) <= 60 else f"{text[:57]}..."


def _model_at(path: Path, model: type[BaseModel]) -> type[BaseModel]:
    for name in path:
        if isinstance(name, str):
            model = next(_models(_field(model, name)), model)
    return model


def _choices(path: Path, tables: type[BaseModel]) -> Sequence[str]:
    path = path[:-2] if path[-1] == "[key]" else path
    annotation = _field(_model_at(path[:-1], tables), str(path[-1]))
    return [str(choice) for choice in next(_enums(annotation), ())]


def _field(model: type[BaseModel], name: str) -> Any:  # The annotation of a field may be anything.
    for own, field in model.model_fields.items():
        if name in (own, field.alias):
            return field.annotation
    return None


def _models(annotation: Any) -> Iterator[type[BaseModel]]:
    if isinstance(annotation, type) and issubclass(annotation, BaseModel):
        yield annotation
    for part in get_args(annotation):
        yield from _models(part)


def _enums(annotation: Any) -> Iterator[type[StrEnum]]:
    if isinstance(annotation, type) and issubclass(annotation, StrEnum):
        yield annotation
    for part in get_args(annotation):
        yield from _enums(part)


def _keys(model: type[BaseModel]) -> list[str]:
    return [field.alias or name for name, field in model.model_fields.items()]


def _is_single(name: str | int, tables: type[BaseModel]) -> bool:
    annotation = _field(tables, str(name))
    return isinstance(annotation, type) and not get_args(annotation)


def _likeness(written: str, key: str) -> float:
    whole = SequenceMatcher(None, written, key).ratio()
    parts = (SequenceMatcher(None, written, part).ratio() * _PART_SHARE for part in key.split("_"))
    return max(whole, *parts)
