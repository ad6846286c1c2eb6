"""What the pages of a rota drawn up again show: each shift with who could have it, and what a drawn rota changes."""

from __future__ import annotations

from collections import Counter
from collections.abc import Mapping
from dataclasses import dataclass
from datetime import datetime

from django.utils.html import format_html
from django.utils.safestring import SafeString, mark_safe

from kitchen.errors import KitchenError
from kitchen.harvest.bridge import Difference, difference_of
from kitchen.planning.bridge import day_of, dump_plan, read_day
from kitchen.planning.bridge.kept import NOBODY, Held, kept_words, read_around, who_may
from kitchen.planning.held import check_rota_stands, held_now
from kitchen.planning.models import HarvestDay, PlanJob
from kitchen.planning.queries import published_job
from kitchen.rota.models import Shift, Station
from kitchen.rota.queries import rota_of

AT_ONCE = 60
"""Of a day with more shifts than these only those are shown that somebody is chosen for, and the stations asked for."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Choice:
    """Somebody who could be kept at a shift. ``stays``: they have it now."""

    key: str
    name: str
    stays: bool
    chosen: bool


@dataclass(frozen=True, slots=True, kw_only=True)
class Seat:
    """A shift, and the people who could be kept there: first who has it and who is chosen, then ``others`` as markup.

    ``by_hand``: it changed hands since the plan was published. ``stranded``: who has it cannot stay there.
    """

    shift: Shift
    first: tuple[Choice, ...]
    others: SafeString
    by_hand: bool
    stranded: bool


@dataclass(frozen=True, slots=True, kw_only=True)
class AtStation:
    """A station: how many shifts it has, for how many of them somebody is chosen, and the shifts in the order of the
    clock where they are shown. ``is_open``: somebody is chosen, or one of them is looked at.
    """

    name: str
    title: str
    shifts: int
    kept: int
    seats: tuple[Seat, ...]
    is_open: bool


@dataclass(frozen=True, slots=True, kw_only=True)
class Asked:
    """What a page of choices is asked for: what was ``given`` so far, the rota drawn ``again``, the uuid of the shift
    ``looked_at``, and the stations to be ``shown``.
    """

    given: Mapping[int, int] | None = None
    again: PlanJob | None = None
    looked_at: str = ""
    shown: frozenset[str] = frozenset()


def stations_of(day: HarvestDay, asked: Asked) -> tuple[AtStation, ...]:
    """The shifts of the published plan with their choices, station by station.

    Chosen are those ``given``, else those of the rota drawn ``again``, else whoever took or swapped a shift by hand and
    whom the lead kept when the rota was drawn up last, and whoever has the shift ``looked_at``.
    """
    standing = held_now(day)
    chosen = dict(asked.given) if asked.given is not None else _known(day, standing, asked.again)
    shifts = {
        key: (str(uuid), Station(station), user)
        for key, uuid, station, user in Shift.objects.filter(
            harvest_day=day, pk__in=standing.pieces
        ).values_list("pk", "uuid", "station", "user_id")
    }
    if asked.given is None:
        for key, (uuid, _, user) in shifts.items():
            if uuid == asked.looked_at and user is not None:
                chosen.setdefault(key, user)
    opened = {
        station
        for key, (uuid, station, _) in shifts.items()
        if key in chosen or uuid == asked.looked_at or station.value in asked.shown
    }
    counts = Counter(station for _, station, _ in shifts.values())
    kept = Counter(shifts[key][1] for key in chosen if key in shifts)
    shown = set(Station) if len(shifts) <= AT_ONCE else opened
    seats = _seats(
        day, standing, [key for key, (_, station, _) in shifts.items() if station in shown], chosen
    )
    return tuple(
        AtStation(
            name=station.value,
            title=station.label,
            shifts=counts[station],
            kept=kept[station],
            seats=tuple(seat for seat in seats if seat.shift.station == station),
            is_open=station in opened,
        )
        for station in Station
        if counts[station]
    )


def _seats(day: HarvestDay, standing: Held, keys: list[int], chosen: Mapping[int, int]) -> list[Seat]:
    if not keys:
        return []
    may = who_may(day, standing.plan, {standing.pieces[key] for key in keys})
    options = {person: _option(*person) for able in may.values() for person in able}
    shifts = rota_of(day).filter(pk__in=keys).order_by("starts_at", "pk")
    return [
        _seat(shift, standing, may[standing.pieces[shift.pk]], options, str(chosen.get(shift.pk, "")))
        for shift in shifts
    ]


def _seat(
    shift: Shift,
    standing: Held,
    able: tuple[tuple[str, str], ...],
    options: Mapping[tuple[str, str], str],
    chosen: str,
) -> Seat:
    mine = standing.pieces[shift.pk].person_id
    first = [
        Choice(key=key, name=name, stays=key == mine, chosen=key == chosen)
        for key, name in able
        if key in (mine, chosen)
    ]
    return Seat(
        shift=shift,
        first=tuple(sorted(first, key=lambda one: not one.stays)),
        # Hundreds of shifts with dozens of people each are more than a template writes in good time.
        others=mark_safe("".join([options[one] for one in able if one[0] not in (mine, chosen)])),  # noqa: S308  (from format_html)
        by_hand=shift.pk in standing.by_hand,
        stranded=mine != NOBODY and all(key != mine for key, _ in able),
    )


def _option(key: str, name: str) -> str:
    return format_html('<option value="{}">{}</option>', key, name)


def _known(day: HarvestDay, standing: Held, again: PlanJob | None) -> dict[int, int]:
    """Who is chosen before the lead has chosen anything."""
    found = (
        {} if again is not None else {key: int(standing.pieces[key].person_id) for key in standing.by_hand}
    )
    job = again or published_job(day, light=True)
    if job is None or not job.is_of_rota:
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
