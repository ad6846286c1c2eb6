"""The rows that leave."""

from __future__ import annotations

from collections.abc import Iterator
from contextlib import contextmanager
from functools import reduce
from operator import or_

from django.db import connection
from django.db.models import Model, Q, QuerySet

from kitchen.export.tables import Table
from kitchen.members.models import Kitchen, User

_AT_ONCE = 1000
"""So many rows are held in memory at a time."""
_BEGIN = {"postgresql": "BEGIN ISOLATION LEVEL REPEATABLE READ READ ONLY", "sqlite": "BEGIN DEFERRED"}


@contextmanager
def one_moment() -> Iterator[None]:
    """Within, every table is read as it was at one moment, and nobody who writes has to wait.

    Inside of a transaction it is that transaction's view.
    """
    if connection.in_atomic_block:
        yield
        return
    with connection.cursor() as cursor:
        cursor.execute(_BEGIN[connection.vendor])
        try:
            yield
        finally:
            cursor.execute("ROLLBACK")


def rows_of_kitchen(table: Table, kitchen: Kitchen) -> Iterator[tuple[object, ...]]:
    """The table's rows in this kitchen, oldest first, its columns in order."""
    rows = table.model._base_manager.filter(**{table.within: kitchen.pk}).order_by("pk").distinct()
    return _read(rows, table.columns())


def rows_of_person(table: Table, user: User, kitchen: Kitchen | None) -> Iterator[tuple[object, ...]]:
    """The table's rows about this person, in one kitchen or in all."""
    about = reduce(or_, (Q(**{path: user.pk}) for path in table.mine))
    rows = table.model._base_manager.filter(about).order_by("pk").distinct()
    if kitchen is not None:
        rows = rows.filter(**{table.within: kitchen.pk})
    return _read(rows, table.columns(own=True))


def _read(rows: QuerySet[Model], columns: list[str]) -> Iterator[tuple[object, ...]]:
    return iter(rows.values_list(*columns).iterator(chunk_size=_AT_ONCE))
