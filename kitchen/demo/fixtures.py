"""The demo's files as values. Days are counted from the harvest day to come, times are the kitchen's own."""

from __future__ import annotations

import tomllib
from dataclasses import dataclass, field
from datetime import time
from decimal import Decimal
from pathlib import Path
from typing import ClassVar, TypeVar

from pydantic import ConfigDict, TypeAdapter

_File = TypeVar("_File")
_STRICT = ConfigDict(extra="forbid")


@dataclass(frozen=True, slots=True, kw_only=True)
class Site:
    """The kitchen itself, and the password of everybody in it."""

    __pydantic_config__: ClassVar[ConfigDict] = _STRICT
    name: str
    slug: str
    site_code: str
    altitude_ft: int
    time_zone: str
    password: str


@dataclass(frozen=True, slots=True, kw_only=True)
class PolicyOf:
    """What the kitchen decides for itself; the rest keeps its safe default."""

    __pydantic_config__: ClassVar[ConfigDict] = _STRICT
    cool_down_minutes: int
    meat_cut_off: time


@dataclass(frozen=True, slots=True, kw_only=True)
class Opening:
    """Usual hours on some weekdays. Monday is 0."""

    __pydantic_config__: ClassVar[ConfigDict] = _STRICT
    weekdays: tuple[int, ...]
    opens: time
    closes: time


@dataclass(frozen=True, slots=True, kw_only=True)
class BurnerOf:
    """A burner."""

    __pydantic_config__: ClassVar[ConfigDict] = _STRICT
    name: str
    power_w: int
    efficiency: float


@dataclass(frozen=True, slots=True, kw_only=True)
class Check:
    """A dial gauge's last check."""

    __pydantic_config__: ClassVar[ConfigDict] = _STRICT
    day: int
    error_psi: Decimal
    by: str


@dataclass(frozen=True, slots=True, kw_only=True)
class CannerOf:
    """A canner on the burner with this name."""

    __pydantic_config__: ClassVar[ConfigDict] = _STRICT
    code: str
    name: str
    kind: str
    burner: str
    inside_diameter_in: float
    inside_depth_in: float
    layers: int = 1
    heavy_walled: bool = False
    own_counts: dict[str, int] = field(default_factory=dict)
    gauge_check: Check | None = None


@dataclass(frozen=True, slots=True, kw_only=True)
class KettleOf:
    """A kettle with a heat of its own."""

    __pydantic_config__: ClassVar[ConfigDict] = _STRICT
    name: str
    volume_qt: float


@dataclass(frozen=True, slots=True, kw_only=True)
class TableOf:
    """A cooling table."""

    __pydantic_config__: ClassVar[ConfigDict] = _STRICT
    name: str
    area_sq_in: float


@dataclass(frozen=True, slots=True, kw_only=True)
class PersonOf:
    """A person; ``trained`` is the day of a canner training, ``calendar`` a file in the same folder."""

    __pydantic_config__: ClassVar[ConfigDict] = _STRICT
    email: str
    name: str
    role: str
    trained: int | None = None
    under_16: bool = False
    likes: tuple[str, ...] = ()
    cannot: tuple[str, ...] = ()
    most_hours: float | None = None
    comes_with: str = ""
    learning: bool = False
    calendar: str = ""


@dataclass(frozen=True, slots=True, kw_only=True)
class SlotOf:
    """Canner time that a member booked: what for, and on which day, counted from the harvest day."""

    __pydantic_config__: ClassVar[ConfigDict] = _STRICT
    member: str
    day: int
    food: str
    pack: str
    jar: str
    jars: int


@dataclass(frozen=True, slots=True, kw_only=True)
class KitchenFile:
    """``kitchen.toml``."""

    __pydantic_config__: ClassVar[ConfigDict] = _STRICT
    kitchen: Site
    policy: PolicyOf
    opening: tuple[Opening, ...]
    burner: tuple[BurnerOf, ...]
    canner: tuple[CannerOf, ...]
    kettle: tuple[KettleOf, ...]
    table: tuple[TableOf, ...]
    person: tuple[PersonOf, ...]
    slot: tuple[SlotOf, ...]


@dataclass(frozen=True, slots=True, kw_only=True)
class BatchOf:
    """What a member brings; on the past day also what became of it."""

    __pydantic_config__: ClassVar[ConfigDict] = _STRICT
    member: str
    food: str
    pack: str
    jar: str
    amount: Decimal
    unit: str
    arrives: time
    picks_up: time
    unsealed: int = 0
    broken: int = 0
    heat_off_early_minutes: int = 0


@dataclass(frozen=True, slots=True, kw_only=True)
class DayFile:
    """``harvest_day.toml`` and ``past_day.toml``: opening, people's hours by e-mail address, and batches."""

    __pydantic_config__: ClassVar[ConfigDict] = _STRICT
    opens: time
    closes: time
    hours: dict[str, tuple[tuple[time, time], ...]]
    batch: tuple[BatchOf, ...]
    days_before: int = 0


def read_kitchen(folder: Path) -> KitchenFile:
    """The demo kitchen."""
    return _read(folder / "kitchen.toml", KitchenFile)


def read_harvest_day(folder: Path) -> DayFile:
    """The harvest day to come."""
    return _read(folder / "harvest_day.toml", DayFile)


def read_past_day(folder: Path) -> DayFile:
    """The harvest day that is over."""
    return _read(folder / "past_day.toml", DayFile)


def _read(path: Path, kind: type[_File]) -> _File:
    return TypeAdapter(kind).validate_python(tomllib.loads(path.read_text(encoding="utf-8")))
