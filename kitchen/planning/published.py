"""A plan in the database's terms, between the bridge and the rows: primary keys and aware times."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import datetime


@dataclass(frozen=True, slots=True, kw_only=True)
class PhaseTime:
    """One phase of a load's cycle."""

    kind: str
    starts_at: datetime
    ends_at: datetime


@dataclass(frozen=True, slots=True, kw_only=True)
class JarsOf:
    """The jars of one batch in a load, with what the run sheet says of them."""

    batch_id: int
    jars: int
    process_key: str
    headspace_in: float
    sterilise_jars: bool
    acid: tuple[str, ...]


@dataclass(frozen=True, slots=True, kw_only=True)
class LoadTime:
    """One run of a canner. ``key`` is the plan's own name for it; ``places`` says where each jar stands.

    ``goes_on_as`` is the key of the same load in the plan before. ``has_begun`` is a load of which only the end of its
    canner time may still change.
    """

    key: str
    canner_id: int
    number: int
    starts_at: datetime
    ends_at: datetime
    method: str
    pressure_psi: float | None
    target_reading_psi: float | None
    process_minutes: int
    water_jars: int
    cooling_table_id: int | None
    stand_area_sq_in: float
    stands_until: datetime | None
    phases: tuple[PhaseTime, ...]
    portions: tuple[JarsOf, ...]
    places: tuple[dict[str, float | int | str], ...]
    goes_on_as: str = ""
    has_begun: bool = False


@dataclass(frozen=True, slots=True, kw_only=True)
class ShiftTime:
    """A person at a station. ``load_key`` names the load that the work is for."""

    user_id: int
    station: str
    task: str
    load_key: str
    starts_at: datetime
    ends_at: datetime


@dataclass(frozen=True, slots=True, kw_only=True)
class NoPlace:
    """Jars that found no place, with a plain reason and what would help."""

    batch_id: int
    jars: int
    code: str
    reason: str
    remedy: str


@dataclass(frozen=True, slots=True, kw_only=True)
class PlannedDay:
    """All that publishing writes."""

    loads: tuple[LoadTime, ...]
    shifts: tuple[ShiftTime, ...]
    left_out: tuple[NoPlace, ...]
