"""The tables of a day file, each value of the type it must have. What the values mean together is ``day_file``."""

from __future__ import annotations

from collections.abc import Callable
from datetime import date
from enum import StrEnum
from typing import Annotated

from pydantic import BaseModel, BeforeValidator, ConfigDict, Field

from scheduler.canner_kind import CannerKind
from scheduler.jars import JarSize, Pack
from scheduler.problem import StationKind
from scheduler.yields import Unit


def _spelled(choices: type[StrEnum]) -> Callable[[object], object]:
    """Reads a choice whatever its capitals, with hyphen, underscore or space between its words."""
    spellings = {_plain(choice): choice for choice in choices}
    return lambda value: spellings.get(_plain(value), value) if isinstance(value, str) else value


def _plain(text: str) -> str:
    return text.strip().casefold().replace("-", "_").replace(" ", "_")


_Kind = Annotated[CannerKind, BeforeValidator(_spelled(CannerKind))]
_Jar = Annotated[JarSize, BeforeValidator(_spelled(JarSize))]
_Pack = Annotated[Pack, BeforeValidator(_spelled(Pack))]
_Station = Annotated[StationKind, BeforeValidator(_spelled(StationKind))]
_Unit = Annotated[Unit, BeforeValidator(_spelled(Unit))]
_Id = Annotated[str, Field(min_length=1, max_length=60, pattern=r"^[A-Za-z0-9][A-Za-z0-9_.-]*$")]
_Text = Annotated[str, Field(min_length=1, max_length=120)]
_Time = Annotated[
    str,
    Field(description='"09:30" on the day, "2026-09-06 09:30" on another; "24:00" ends a day', max_length=40),
]
_Number = Annotated[float, Field(allow_inf_nan=False)]
_Count = Annotated[int, Field(ge=1, le=1000)]


class _Table(BaseModel):
    model_config = ConfigDict(strict=True, extra="forbid", frozen=True, populate_by_name=False)


class SpanTable(_Table):
    """From a time to a time."""

    start: _Time = Field(alias="from")
    end: _Time = Field(alias="to")


class HandsTable(SpanTable):
    """So many hands from a time to a time."""

    hands: _Count


class AreaTable(SpanTable):
    """Space on a cooling table that is taken from a time to a time."""

    area_sq_in: Annotated[float, Field(gt=0, allow_inf_nan=False)]


class KitchenTable(_Table):
    """The kitchen and the day. Either ``opens`` and ``closes``, or ``hours`` when it opens more than once."""

    name: _Text
    altitude_ft: _Number
    time_zone: _Text
    date: date
    opens: _Time | None = None
    closes: _Time | None = None
    hours: list[SpanTable] = Field(default_factory=list)


class PolicyTable(_Table):
    """What the kitchen decides for itself; a key left out keeps the safe default."""

    canners_per_person: int | None = None
    fill_wait_limit_minutes: int | None = None
    cool_down_minutes: int | None = None
    share_under_longest: bool | None = None
    cleaning_minutes: int | None = None
    cooling_stand_minutes: int | None = None
    meat_cut_off: _Time | None = None
    loading_minutes: int | None = None
    unloading_minutes: int | None = None
    prep_hands: int | None = None
    fill_hands: int | None = None
    fill_pace: _Number | None = None
    break_minutes: int | None = None
    break_every_minutes: int | None = None
    meal_minutes: int | None = None
    meal_after_minutes: int | None = None
    longest_shift_minutes: int | None = None
    rest_minutes: int | None = None
    walking_minutes: int | None = None
    confirmed_processes: list[str] | None = None


class BurnerTable(_Table):
    """A source of heat. ``efficiency`` is the share that reaches the pot; gas when left out."""

    id: _Id
    name: _Text | None = None
    power_w: int
    efficiency: _Number | None = None


class PaceTable(_Table):
    """What the kitchen's records taught: its time as a multiple of the physical estimate, 0.4 to 3."""

    heat_up: _Number = 1.0
    pressure_up: _Number = 1.0
    cool_down: _Number = 1.0


class CannerTable(_Table):
    """A vessel, measured empty. ``own_`` figures are the kitchen's own and override an estimate."""

    id: _Id
    name: _Text | None = None
    kind: _Kind
    inside_diameter_in: _Number
    inside_depth_in: _Number
    burner: _Id
    layers: int = 1
    own_counts: dict[_Jar, int] = Field(default_factory=dict)
    heavy_walled: bool = False
    gauge_checked_on: date | None = None
    gauge_error_psi: _Number = 0.0
    water_l: _Number | None = None
    empty_mass_kg: _Number | None = None
    own_heat_up_minutes: int | None = None
    own_pressure_up_minutes: int | None = None
    own_cool_down_minutes: dict[_Jar, int] = Field(default_factory=dict)
    pace: PaceTable = Field(default_factory=PaceTable)
    out_of_service: list[SpanTable] = Field(default_factory=list)


class KettleTable(_Table):
    """A pot for hot pack food."""

    id: _Id
    name: _Text | None = None
    volume_qt: Annotated[float, Field(gt=0, le=200, allow_inf_nan=False)]
    burner: _Id | None = None


class StationTable(_Table):
    """A working place: ``hands`` for all of the opening hours, or ``hours`` with hands for each span."""

    kind: _Station
    hands: _Count | None = None
    hours: list[HandsTable] = Field(default_factory=list)


class CoolingTableTable(_Table):
    """Where jars cool."""

    id: _Id
    name: _Text | None = None
    area_sq_in: Annotated[float, Field(gt=0, le=100_000, allow_inf_nan=False)]
    taken: list[AreaTable] = Field(default_factory=list)


class PersonTable(_Table):
    """Someone who helps: all opening hours, unless ``hours`` says when.

    ``learning`` to run a canner puts a person beside a trained one. ``cannot`` and ``likes`` name stations.
    """

    id: _Id
    name: _Text | None = None
    hours: list[SpanTable] = Field(default_factory=list)
    trained: bool = False
    under_16: bool = False
    learning: bool = False
    cannot: list[_Station] = Field(default_factory=list)
    likes: list[_Station] = Field(default_factory=list)
    most_minutes: int | None = None
    comes_with: _Id | None = None
    carried_minutes: int = 0


class BatchTable(_Table):
    """One member's lot. ``amount`` counts ``unit``; weight becomes jars by the published yields, upper end."""

    id: _Id
    member: _Text
    food: _Text
    pack: _Pack
    jar: _Jar
    amount: _Number
    unit: _Unit = Unit.JARS
    arrives: _Time
    pickup: _Time
    prep_person_minutes_per_jar: Annotated[float, Field(ge=0, le=240, allow_inf_nan=False)] | None = None
    kettle_minutes: Annotated[int, Field(ge=0, le=600)] | None = None


class DayTables(_Table):
    """A whole day file."""

    kitchen: KitchenTable
    policy: PolicyTable = Field(default_factory=PolicyTable)
    burner: list[BurnerTable] = Field(min_length=1)
    canner: list[CannerTable] = Field(min_length=1)
    kettle: list[KettleTable] = Field(default_factory=list)
    station: list[StationTable] = Field(default_factory=list)
    table: list[CoolingTableTable] = Field(default_factory=list)
    person: list[PersonTable] = Field(default_factory=list)
    batch: list[BatchTable] = Field(min_length=1)
