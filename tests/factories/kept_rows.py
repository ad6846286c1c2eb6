"""Rows that several tests share, because it takes seconds to make them."""

from __future__ import annotations

from collections.abc import Iterator
from contextlib import contextmanager

from django.db import transaction
from pytest_django import DjangoDbBlocker


@contextmanager
def kept_rows(blocker: DjangoDbBlocker) -> Iterator[None]:
    """What is written first within stands until the end, while each test inside takes back what it writes itself.

    For a fixture of a module or class, whose tests are no ``transaction`` ones.
    """
    with blocker.unblock(), transaction.atomic():
        yield
        transaction.set_rollback(True)
