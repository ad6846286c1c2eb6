"""Words that stand as values in sentences or alone on a page: foods, jars, packs, phases, work, levels, deeds."""

from __future__ import annotations

from collections.abc import Iterator

from kitchen.members.rules import Deed
from kitchen.records.table_file import HEADER
from kitchen.rota.shortage import NUMBERS
from scheduler.canner_kind import CannerKind
from scheduler.chart_rows import PHASE_WORDS, TASK_WORDS, RowKind
from scheduler.cycle import PhaseKind
from scheduler.foods import family_words, foods
from scheduler.jars import JarSize, Pack
from scheduler.learning import Measured
from scheduler.plan import TaskKind
from scheduler.problem import StationKind
from scheduler.score import LEVELS
from scheduler.tables import packaged_tables
from scheduler.yields import Unit

# Joints and short words that sentences are put together with.
_JOINTS = (
    *(
        "and",
        "or",
        "to",
        "for",
        "hot",
        "raw",
        "nobody",
        "anybody",
        "now",
        "everybody",
        "later",
        "earlier",
    ),
    *HEADER,
    *(
        "no",
        "Myself",
        "Canners",
        "Stations",
        "People",
        "hands",
        "tbsp",
        "My jars",
        "Canner time",
        "kilograms",
        "yes",
        "line",
        "plan",
        "seals",
        "times",
        "decision",
        "deviation",
        "signature",
        "tsp",
        "Jars in {1}",
        "closed",
        "the planned day",
        "heat",
        "cool",
        "pressure",
    ),
)
_ENUMERATIONS = (CannerKind, Deed, Measured, Pack, PhaseKind, RowKind, StationKind, TaskKind, Unit)


def vocabulary() -> Iterator[tuple[str, str]]:
    """Each word and where it is from."""
    yield from _of_tables()
    yield from _of_plans()
    for joint in _JOINTS:
        yield joint, "tests/catalogs/vocabulary.py"


def _of_tables() -> Iterator[tuple[str, str]]:
    for food in foods():
        yield food.name, "scheduler/tables/foods.csv"
        yield food.id.replace("_", " "), "scheduler/tables/foods.csv"
        yield family_words(food.guide), "scheduler/foods.py"
    for row in packaged_tables().acidify:
        yield row.text("acid"), "scheduler/tables/acidify.csv"
    for jar in JarSize:
        yield jar.words, "scheduler/jars.py"


def _of_plans() -> Iterator[tuple[str, str]]:
    for kinds in _ENUMERATIONS:
        for one in kinds:
            yield str(getattr(one, "words", one.value)), kinds.__module__.replace(".", "/") + ".py"
    for phase in PhaseKind:
        yield phase.value.replace("_", " "), "kitchen/calendars/bridge.py"
    for words in (*PHASE_WORDS.values(), *TASK_WORDS.values()):
        yield words, "scheduler/chart_rows.py"
    for level in LEVELS:
        yield from ((word, "scheduler/score.py") for word in level)
    for number in NUMBERS:
        yield number, "kitchen/rota/shortage.py"
