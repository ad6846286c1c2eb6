"""What the pages of a rota drawn up again show: each shift with who could have it, and what a drawn rota changes."""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from dataclasses import dataclass
from datetime import datetime

from kitchen.errors import KitchenError
from kitchen.harvest.bridge import Difference, difference_of
from kitchen.planning.bridge import Day, day_of, dump_plan, read_day
from kitchen.planning.bridge.kept import NOBODY, Held, kept_words, read_around, who_may
from kitchen.planning.held import check_rota_stands, held_now
from kitchen.planning.models import HarvestDay, PlanJob
from kitchen.planning.queries import published_job
from kitchen.rota.models import Shift, Station
from kitchen.rota.queries import rota_of


@dataclass(frozen=True, slots=True, kw_only=True)
class Seat:
    """A shift, and the people who could be kept there: key, name, and whether the lead chose this one.

    ``by_hand``: it changed hands since the plan was published. ``stranded``: who has it cannot stay there.
    """

    shift: Shift
    people: tuple[tuple[int, str, bool], ...]
    by_hand: bool
    stranded: bool

    @property
    def is_kept(self) -> bool:
        """True when somebody is chosen for it."""
        return any(chosen for _, _, chosen in self.people)


@dataclass(frozen=True, slots=True, kw_only=True)
class AtStation:
    """A station's shifts in the order of the clock, and for how many of them somebody is chosen. ``is_open``: somebody
    is, or one of them is looked at.
    """

    title: str
    seats: tuple[Seat, ...]
    is_open: bool

    @property
    def kept(self) -> int:
        """How many are kept."""
        return sum(seat.is_kept for seat in self.seats)


def stations_of(
    day: HarvestDay, given: Mapping[int, int] | None, again: PlanJob | None, looked_at: str = ""
) -> tuple[AtStation, ...]:
    """Every shift of the published plan with its choices, station by station.

    Chosen are those ``given``, else those of the rota drawn ``again``, else whoever took or swapped a shift by hand and
    whom the lead kept when the rota was drawn up last, and whoever has the shift ``looked_at``, named by its uuid.
    """
    standing, question = held_now(day), day_of(day)
    chosen = given if given is not None else _known(day, standing, again)
    may = who_may(question, standing.plan, set(standing.pieces.values()))
    shifts = list(rota_of(day).filter(pk__in=standing.pieces).order_by("starts_at", "pk"))
    if given is None:
        holders = {one.pk: one.user_id for one in shifts if str(one.uuid) == looked_at}
        chosen = {key: user for key, user in holders.items() if user is not None} | dict(chosen)
    seats = [_seat(shift, standing, question, may[standing.pieces[shift.pk]], chosen) for shift in shifts]
    found = (
        _station(station, [seat for seat in seats if seat.shift.station == station], looked_at)
        for station in Station
    )
    return tuple(one for one in found if one.seats)


def _station(station: Station, seats: list[Seat], looked_at: str) -> AtStation:
    is_open = any(seat.is_kept or str(seat.shift.uuid) == looked_at for seat in seats)
    return AtStation(title=station.label, seats=tuple(seats), is_open=is_open)


def _seat(shift: Shift, standing: Held, question: Day, may: Iterable[str], chosen: Mapping[int, int]) -> Seat:
    names, able = {person.id: person.name for person in question.people}, set(may)
    mine = standing.pieces[shift.pk].person_id
    first = sorted(able, key=lambda one: (one != mine, names[one]))
    return Seat(
        shift=shift,
        people=tuple((int(one), names[one], chosen.get(shift.pk) == int(one)) for one in first),
        by_hand=shift.pk in standing.by_hand,
        stranded=mine not in {NOBODY, *able},
    )


def _known(day: HarvestDay, standing: Held, again: PlanJob | None) -> dict[int, int]:
    """Who is chosen before the lead has chosen anything."""
    found = (
        {} if again is not None else {key: int(standing.pieces[key].person_id) for key in standing.by_hand}
    )
    job = again or published_job(day)
    if job is None or job.around is None:
        return found
    wanted: dict[tuple[str, int, int], list[str]] = {}
    for one in read_around(job.around).keep:
        wanted.setdefault((one.task_id, one.start, one.end), []).append(one.person_id)
    for key, piece in standing.pieces.items():
        people = wanted.get((piece.task_id, piece.start, piece.end), [])
        if key not in found and people and (again is not None or piece.person_id in people):
            person = piece.person_id if piece.person_id in people else people[0]
            people.remove(person)
            found[key] = int(person)
    return found


def kept_of(job: PlanJob) -> tuple[str, ...]:
    """Whom a rota was asked to keep where, in words."""
    day = read_day(job.day) if job.day is not None else day_of(job.harvest_day)
    return kept_words(day, read_around(job.around))


def is_few(job: PlanJob) -> bool:
    """True when only what must change was to change."""
    return read_around(job.around).few_changes


def told_of(job: PlanJob) -> tuple[str, ...]:
    """How fair a drawn rota is, in words."""
    return read_around(job.around).told


def rota_difference(job: PlanJob) -> Difference:
    """What a drawn rota changes for people, against what they held when it was asked for."""
    return difference_of(job.day, dump_plan(read_around(job.around).before), job.day, job.plan)


def why_not_standing(job: PlanJob, at: datetime) -> KitchenError | None:
    """Why a drawn rota cannot be published any more; None while what it was drawn up around still holds."""
    try:
        check_rota_stands(job, job.harvest_day, at)
    except KitchenError as refusal:
        return refusal
    return None
