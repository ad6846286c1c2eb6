"""Queries whose SQL is written once and asked many times.

Django writes a query's SQL anew each time, from the rows that are wanted and the conditions on them, and for most of
the kitchen's queries that takes longer than the database needs to answer. A function that is marked ``@prepared`` tells
which rows are wanted, for values that it is given; its SQL is written when it is first asked, and from then on only the
values change. Every answer is read from the database: nothing of it is kept.
"""

from __future__ import annotations

from collections.abc import Callable, Collection, Mapping, Sequence
from copy import copy
from dataclasses import dataclass
from typing import Any, ClassVar, Generic, ParamSpec, TypeVar, cast

from django.core.exceptions import EmptyResultSet, ImproperlyConfigured
from django.db import connections
from django.db.backends.base.base import BaseDatabaseWrapper
from django.db.models import Choices, Expression, Field, Model, QuerySet, Value
from django.db.models.sql.compiler import SQLCompiler
from django.http import Http404

P = ParamSpec("P")
R = TypeVar("R")
_FIELDS: dict[type, Field[Any, Any]] = {}
_Given = Sequence[Value | Sequence[Value]]
_Shape = Mapping[str, object]


class Prepared(Generic[P, R]):
    """A query that is asked with values and answers with its rows, all of them.

    The function's positional arguments are the values: a number, a text, a time, an id, or a row, which stands for its
    key; or several of these for a condition ``pk__in``. The function may only hand them on to conditions. Arguments by
    keyword say how the query is built; for each combination of them its SQL is written once. Whatever else the function
    reads, such as the clock, would stay for good as it was at first: it must read nothing else.
    """

    compares: ClassVar[bool] = False
    """Whether each query is also written anew and compared, so that a function that reads more than its arguments is
    found out; so it is in the tests.
    """

    def __init__(self, build: Callable[P, QuerySet[Any, R]]) -> None:
        self._build = build
        self._written: dict[object, _Written[R]] = {}
        self.__doc__ = build.__doc__
        self.__name__ = build.__name__

    def __call__(self, *values: P.args, **shape: P.kwargs) -> list[R]:
        """The rows, in the order that the function gives them. ``ImproperlyConfigured`` for a value that cannot stand
        in a condition, above all None: SQL asks for what is missing in other words than for what is there.
        """
        given = [_given(one, self.__name__) for one in values]
        lengths = tuple(len(one) if isinstance(one, tuple) else None for one in given)
        key = lengths, tuple(sorted(shape.items()))
        written = self._written.get(key)
        if written is None:
            written = self._written[key] = self._write(_places(given), shape)
        if self.compares:
            self._compare(written, values, given, shape)
        return written.ask(given)

    def first(self, *values: P.args, **shape: P.kwargs) -> R | None:
        """The first of the rows, None when there is none. The function itself asks for no more than it needs."""
        return next(iter(self(*values, **shape)), None)

    def or_404(self, *values: P.args, **shape: P.kwargs) -> R:
        """Likewise. ``Http404`` when there is none."""
        found = self.first(*values, **shape)
        if found is None:
            raise Http404
        return found

    def _write(self, values: Sequence[object], shape: _Shape) -> _Written[R]:
        return _Written.of(self._build(*cast(Any, values), **cast(Any, shape)))

    def _compare(self, written: _Written[R], values: Sequence[object], given: _Given, shape: _Shape) -> None:
        connection = connections[written.rows.db]
        # Django asks for each of several values once, and so does not write those to spare.
        once = [
            one if isinstance(one, Value) else tuple({of.value: of for of in one}.values()) for one in given
        ]
        whole = [
            values[at] if isinstance(one, Value) else [of.value for of in one] for at, one in enumerate(once)
        ]
        asked = (
            (written, self._write(_places(given), shape), given),
            (self._write(whole, shape), self._write(_places(once), shape), once),
        )
        if any(one.told(of, connection) != anew.told(of, connection) for one, anew, of in asked):
            raise ImproperlyConfigured(
                f"{self.__name__} reads more than its arguments, or does more with them than ask for them."
            )


def prepared(build: Callable[P, QuerySet[Any, R]]) -> Prepared[P, R]:
    """The query that a function tells, with its SQL written once."""
    return Prepared(build)


class _Place(Expression):
    """Where a value is put each time: the argument's, or one of them when it is several."""

    def __init__(self, at: int, within: int | None, field: Field[Any, Any]) -> None:
        super().__init__(output_field=field)
        self.at = at, within

    def as_sql(self, compiler: SQLCompiler, connection: BaseDatabaseWrapper) -> tuple[str, Any]:
        """A parameter, filled in when the query is asked."""
        return "%s", [self]


@dataclass(frozen=True, slots=True)
class _Written(Generic[R]):
    """A query with its SQL, whose parameters are values or places for them. Without SQL no row can answer it."""

    rows: QuerySet[Any, R]
    compiler: SQLCompiler
    sql: str
    parameters: tuple[object, ...]

    @classmethod
    def of(cls, rows: QuerySet[Any, R]) -> _Written[R]:
        compiler = rows.query.get_compiler(using=rows.db)
        try:
            sql, parameters = compiler.as_sql()
        except EmptyResultSet:
            sql, parameters = "", ()
        # The connection is this thread's own, and would be held open when the thread has ended.
        vars(compiler)["connection"] = None
        return cls(rows, compiler, sql, tuple(parameters))

    def filled(self, given: _Given, connection: BaseDatabaseWrapper) -> tuple[object, ...]:
        """The parameters with the values in their places, as the database takes them."""
        return tuple(
            _put(given, one, connection) if isinstance(one, _Place) else one for one in self.parameters
        )

    def told(self, given: _Given, connection: BaseDatabaseWrapper) -> tuple[object, ...]:
        """What is asked, without the brackets that Django writes around a place and not around a value."""
        return self.sql.replace("(%s)", "%s"), self.filled(given, connection)

    def ask(self, given: _Given) -> list[R]:
        """The rows for these values."""
        if not self.sql:
            return []
        connection = connections[self.rows.db]
        answer = self.sql, self.filled(given, connection)
        # What Django reads rows with is one compiler to each reading, here with the SQL known beforehand.
        compiler, rows = copy(self.compiler), self.rows.all()
        compiler.connection = connection
        vars(compiler)["as_sql"] = lambda *_, **__: answer
        vars(rows.query)["get_compiler"] = lambda *_, **__: compiler
        return list(rows)


def _put(given: _Given, place: _Place, connection: BaseDatabaseWrapper) -> object:
    at, within = place.at
    found = given[at]
    value = found if isinstance(found, Value) else found[within or 0]
    return value.output_field.get_db_prep_value(value.value, connection)


def _places(given: _Given) -> list[object]:
    return [
        _Place(at, None, one.output_field)
        if isinstance(one, Value)
        else [_Place(at, within, of.output_field) for within, of in enumerate(one)]
        for at, one in enumerate(given)
    ]


def _given(value: object, name: str) -> Value | tuple[Value, ...]:
    if not isinstance(value, Collection) or isinstance(value, str | bytes | Model):
        return _value(value, name)
    many = list({of.value: of for of in (_value(one, name) for one in value)}.values())
    # As many places as the next power of two, the last value in those to spare: so the SQL is written for few lengths.
    spare = (1 << (len(many) - 1).bit_length()) - len(many) if many else 0
    return (*many, *many[-1:] * spare)


def _value(value: object, name: str) -> Value:
    if isinstance(value, Model):
        value = value.pk
    if isinstance(value, Choices):
        value = value.value
    if value is None:
        raise ImproperlyConfigured(
            f"{name} is asked for nothing; ask for what is missing with a query of its own."
        )
    # A new field to each value would take longer than the value itself; it depends on nothing but what kind that is.
    kind = (
        value.__class__
    )  # As Django looks at it, also through what stands for a value until it is asked for.
    if kind not in _FIELDS:
        _FIELDS[kind] = Value(value).output_field
    return Value(value, output_field=_FIELDS[kind])
