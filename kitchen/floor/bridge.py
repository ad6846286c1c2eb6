"""What the run sheet takes from the planner: the picture of the jars in their canner, words and the caution."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, replace
from datetime import date

from kitchen.equipment.bridge import as_burner, as_canner
from kitchen.equipment.models import Canner
from kitchen.learning.actions import PhaseTook
from kitchen.learning.models import TimedKind
from kitchen.members.queries import confirmed_process_keys
from kitchen.planning.models import Load
from scheduler import rack
from scheduler.canner import least_cool_down_minutes
from scheduler.canner_kind import CannerKind
from scheduler.caution import CAUTION
from scheduler.chart_rows import PHASE_WORDS
from scheduler.cycle import PhaseKind, usual_minutes
from scheduler.errors import NoPublishedProcess, SchedulerError
from scheduler.jars import JarSize, Pack
from scheduler.measure import in_words
from scheduler.process import METHOD_OF, STEAM_LIMIT_MINUTES, find_processes, process_named
from scheduler.rack import Place
from scheduler.rack_drawing import drawing

__all__ = [
    "CAUTION",
    "Water",
    "inches",
    "phase_words",
    "phases_took",
    "pictures_of",
    "water_for",
    "why_not_published",
]


@dataclass(frozen=True, slots=True, kw_only=True)
class Water:
    """How much water a canner is loaded with, in words such as ``2 in``; all of it empty where nothing is published.

    ``over_jars`` is how far it stands at least over the tops of the jars, ``least`` and ``most`` how deep before they
    go in.
    """

    over_jars: str = ""
    least: str = ""
    most: str = ""


def inches(length_in: float) -> str:
    """A length as a ruler shows it: ``1/2 in``."""
    return f"{in_words(length_in)} in"


def phase_words(kind: str) -> str:
    """A phase as a person says it."""
    return PHASE_WORDS[PhaseKind(kind)]


def water_for(load: Load) -> Water:
    """The published depth of water for this canner and this process; for a steam canner none is at hand."""
    match load.canner.kind:
        case CannerKind.BOILING_WATER:
            return Water(over_jars=inches(rack.water_over_jars_in(load.process_minutes)))
        case CannerKind.STEAM:
            return Water()
        case _:
            return Water(least=inches(rack.LEAST_PRESSURE_WATER_IN), most=inches(rack.MOST_PRESSURE_WATER_IN))


def pictures_of(row: Canner, loads: Mapping[str, Load], on: date) -> dict[str, str]:
    """Where each jar of these loads of one canner stands, as SVG; empty where the plan kept no places.

    The keys tell the pictures of a page apart, for they become part of the ids inside.
    """
    drawn = {key: load for key, load in loads.items() if load.places}
    if not drawn:
        return {}
    canner = as_canner(row, on=on, service=())
    return {
        key: drawing(replace(canner, id=f"{canner.id}-{key}"), _places(load)) for key, load in drawn.items()
    }


def why_not_published(load: Load) -> str:
    """Why a process on a published run sheet does not hold any more (rule S1); empty when it does.

    The kitchen's altitude may have been corrected since the plan was published, the kind of the canner, the jars of a
    batch, or a row of the tables, or a lead's confirmation taken back.
    """
    kitchen, kind = load.harvest_day.kitchen, CannerKind(load.canner.kind)
    confirmed = confirmed_process_keys(kitchen)
    for portion in load.portions.select_related("batch").order_by("pk"):
        batch = portion.batch
        try:
            process = process_named(portion.process_key)
        except NoPublishedProcess as error:
            return error.message
        too_long = kind is CannerKind.STEAM and process.process_minutes > STEAM_LIMIT_MINUTES
        if process.method is not METHOD_OF[kind] or too_long:
            return f"{process.words} is published for a {process.method.words}, not for a {kind.words}."
        if not process.covers(kitchen.altitude_ft):
            return f"{process.words} is not published for {kitchen.altitude_ft:,} ft."
        if not process.schedulable(confirmed):
            return f"{process.words} is not confirmed by a lead."
        try:
            lines = find_processes(
                batch.food_id, Pack(batch.pack), JarSize(batch.jar), kind, kitchen.altitude_ft
            )
        except NoPublishedProcess as error:
            return error.message
        if process not in lines:
            return (
                f"{process.words} is not published for {batch.get_jar_display().lower()} jars of this batch."
            )
    return ""


def phases_took(load: Load, recorded: Mapping[TimedKind, float]) -> list[PhaseTook]:
    """Recorded minutes beside what is usual for this load on this canner, and the least of rule S5.

    Nothing for a load whose process is not, or no longer, one for its canner.
    """
    canner = as_canner(load.canner, on=load.harvest_day.date, service=())
    portions = load.portions.select_related("batch").order_by("pk")
    sizes = {JarSize(portion.batch.jar) for portion in portions}
    usual: dict[str, float] = {PhaseKind.UNLOADING: load.harvest_day.kitchen.unloading_minutes}
    try:
        for key in dict.fromkeys(portion.process_key for portion in portions):
            minutes = usual_minutes(canner, as_burner(load.canner.burner), process_named(key), sizes)
            usual |= {kind: max(took, usual.get(kind, 0.0)) for kind, took in minutes.items()}
    except SchedulerError:
        return []
    least = max((least_cool_down_minutes(canner, jar) for jar in sizes), default=0)
    return [
        PhaseTook(
            kind=kind,
            usual_minutes=usual[kind],
            recorded_minutes=took,
            least_minutes=least if kind == TimedKind.COOL_DOWN else 0,
        )
        for kind, took in recorded.items()
        if kind in usual
    ]


def _places(load: Load) -> tuple[Place, ...]:
    return tuple(
        Place(
            layer=place["layer"],
            x_in=place["x_in"],
            y_in=place["y_in"],
            diameter_in=place["diameter_in"],
            jar=JarSize(place["jar"]),
        )
        for place in load.places
    )
