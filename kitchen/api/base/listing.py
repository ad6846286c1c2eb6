"""Rows of a list, told straight from their columns: what their serializer tells row by row, in a part of the time."""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Callable, Iterator, Mapping, Sequence
from dataclasses import dataclass, field
from datetime import UTC, datetime
from functools import cached_property
from typing import Any  # A row holds whatever its columns do.

from django.core.exceptions import ImproperlyConfigured
from django.db.models import QuerySet
from django.db.models.expressions import Combinable
from rest_framework import serializers
from rest_framework.fields import Field

Row = Mapping[str, Any]
Tell = Callable[[Row], Any]
Beside = Callable[[Sequence[int]], Mapping[int, Any]]
Shown = type[serializers.BaseSerializer[Any]]


@dataclass(frozen=True)
class Listing:
    """How the rows of ``shown`` are told in a list. Every column that is told is read, and no other.

    ``reckoned`` says how the database works out a field whose source is no column; ``parts`` where the row of a nested
    serializer is that a field finds by itself. ``beside`` finds for the keys of all rows what stands in other rows, in
    as many queries for many as for one; ``without`` is told where there is nothing.
    """

    shown: Shown
    reckoned: Mapping[str, Combinable] = field(default_factory=dict)
    parts: Mapping[str, tuple[Shown, str]] = field(default_factory=dict)
    beside: Mapping[str, Beside] = field(default_factory=dict)
    without: Callable[[], object] = list

    def read(self, rows: QuerySet[Any], *more: str) -> QuerySet[Any, dict[str, Any]]:
        """What is told of the rows, with their keys and ``more``."""
        reckoned = {_reckoned(name): how for name, how in self.reckoned.items()}
        # What would be read along with a row, or after it, is among the columns.
        return (
            rows.select_related(None).prefetch_related(None).values("pk", *more, *self._columns, **reckoned)
        )

    def told(self, rows: Sequence[Row]) -> list[dict[str, Any]]:
        """Rows that ``read`` gave, as they are told."""
        found = {}
        if rows:
            keys = [row["pk"] for row in rows]
            found = {name: find(keys) for name, find in self.beside.items()}
        return [self._one(row, found) for row in rows]

    def told_by(self, key: str, rows: QuerySet[Any]) -> Mapping[int, list[dict[str, Any]]]:
        """The rows as they are told, in their order, by the value of this column."""
        read = list(self.read(rows, key))
        groups: defaultdict[int, list[dict[str, Any]]] = defaultdict(list)
        for row, told in zip(read, self.told(read), strict=True):
            groups[row[key]].append(told)
        return groups

    def _one(self, row: Row, found: Mapping[str, Mapping[int, Any]]) -> dict[str, Any]:
        told = {name: tell(row) for name, tell in self._tells}
        for name, values in found.items():
            told[name] = values[row["pk"]] if row["pk"] in values else self.without()
        return told

    @cached_property
    def _columns(self) -> list[str]:
        return list(dict.fromkeys(column for _, columns, _ in self._plan for column in columns))

    @cached_property
    def _tells(self) -> list[tuple[str, Tell]]:
        return [(name, tell) for name, _, tell in self._plan]

    @cached_property
    def _plan(self) -> list[tuple[str, list[str], Tell]]:
        """Each field with the columns that it is made of, and how."""
        return [(str(one.field_name), *self._of_field(one)) for one in _fields(self.shown)]

    def _of_field(self, one: Field[Any, Any, Any, Any]) -> tuple[list[str], Tell]:
        name = str(one.field_name)
        if name in self.beside:
            return [], _nothing
        if name in self.reckoned:
            return [], _of_column(_reckoned(name), one)
        if name in self.parts:
            shown, source = self.parts[name]
            return _of_part(shown, source, may_miss=True)
        return _of_source(one, "")


def _fields(shown: Shown) -> Iterator[Field[Any, Any, Any, Any]]:
    made = shown()
    if not isinstance(made, serializers.Serializer):
        raise ImproperlyConfigured(f"{shown.__name__} has no fields to be told from columns.")
    yield from made.fields.values()


def _reckoned(name: str) -> str:
    """Under which the database gives it; the name itself may be that of a column."""
    return f"told_{name}"


def _nothing(row: Row) -> None:
    """In its place until it is found."""


def _of_source(one: Field[Any, Any, Any, Any], before: str) -> tuple[list[str], Tell]:
    source = before + str(one.source).replace(".", "__")
    if isinstance(one, serializers.SerializerMethodField | serializers.ListSerializer):
        raise ImproperlyConfigured(f"{one.field_name} of {type(one.parent).__name__} is in no column.")
    if isinstance(one, serializers.Serializer):
        return _of_part(type(one), source, may_miss=one.allow_null)
    return [source], _of_column(source, one)


def _of_part(shown: Shown, source: str, *, may_miss: bool) -> tuple[list[str], Tell]:
    plan = [(str(one.field_name), *_of_source(one, f"{source}__")) for one in _fields(shown)]
    tells = [(name, tell) for name, _, tell in plan]
    columns = [column for _, under, _ in plan for column in under]
    if not may_miss:
        return columns, lambda row: {name: tell(row) for name, tell in tells}
    key = f"{source}__pk"
    return [
        key,
        *columns,
    ], lambda row: None if row[key] is None else {name: tell(row) for name, tell in tells}


def _of_column(column: str, one: Field[Any, Any, Any, Any]) -> Tell:
    word = _word_for(one)
    return lambda row: None if (value := row[column]) is None else word(value)


def _word_for(one: Field[Any, Any, Any, Any]) -> Callable[[Any], Any]:
    """What becomes of a value that is there. Of times there are most, and the framework asks for the zone each time."""
    if type(one) is serializers.DateTimeField:
        return _moment
    if type(one) in (serializers.UUIDField, serializers.CharField):
        return str
    return one.to_representation


def _moment(value: datetime) -> str:
    return value.astimezone(UTC).isoformat().removesuffix("+00:00") + "Z"
