"""Whom a page or a message is for: their language and their units."""

from __future__ import annotations

from collections.abc import Iterator
from contextlib import contextmanager
from contextvars import ContextVar
from enum import StrEnum
from typing import Protocol

from django.conf import settings
from django.utils import translation

LANGUAGE_COOKIE = settings.LANGUAGE_COOKIE_NAME
UNITS_COOKIE = "kitchen_units"


class Units(StrEnum):
    """What lengths, weights, pressures and temperatures are shown in. What is published stays visible in both."""

    US = "us"
    METRIC = "metric"


class Reader(Protocol):
    """A person as far as this package needs to know; both are empty until they choose."""

    language: str
    units: str


_units: ContextVar[Units] = ContextVar("units", default=Units.US)


def units_in_use() -> Units:
    """The units of whoever reads what is being written; US, as the guides print them, when nobody in particular."""
    return _units.get()


def language_named(name: object) -> str:
    """The language of this name, or nothing when there is none."""
    return str(name) if str(name) in dict(settings.LANGUAGES) else ""


def units_named(name: object) -> Units:
    """The units of this name; US units for any other name."""
    return Units.METRIC if name == Units.METRIC.value else Units.US


@contextmanager
def written_for(language: str, units: str) -> Iterator[None]:
    """Everything within is written in this language and these units; English and US units when they are empty."""
    token = _units.set(units_named(units))
    try:
        with translation.override(language_named(language) or settings.LANGUAGE_CODE):
            yield
    finally:
        _units.reset(token)


@contextmanager
def written_to(reader: Reader) -> Iterator[None]:
    """Everything within is written for this person, wherever it is written: in a page, a worker or a feed."""
    with written_for(reader.language, reader.units):
        yield
