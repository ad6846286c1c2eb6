"""A rota in words: by person or by station, how fair it is against what is proven, and what it changes."""

from __future__ import annotations

from collections.abc import Iterable, Iterator
from textwrap import fill

from scheduler.chart_rows import TASK_WORDS, load_words
from scheduler.day_clock import clock_words
from scheduler.plan import Assignment, Plan, Task, TaskKind
from scheduler.problem import Day, StationKind
from scheduler.redraw import Redrawn
from scheduler.rota.naming import STATION_OF
from scheduler.rota.strain import Work, busy_minutes

_WIDTH = 100
_STATIONS = {
    StationKind.PREP: "Prep",
    StationKind.KETTLE: "Kettles",
    StationKind.FILL: "Filling",
    StationKind.CANNER: "Canners",
    StationKind.COOLING: "Cooling tables",
}


def rota_text(day: Day, redrawn: Redrawn, changes: Iterable[str], *, by_station: bool = False) -> str:
    """The rota as text with times of the kitchen's clock; ``changes`` are the sentences of what it changes."""
    text = _RotaText(day, redrawn)
    sections = (
        ("STATIONS", text.stations()) if by_station else ("PEOPLE", text.people()),
        ("HOW FAIR", fairness_words(redrawn)),
        ("WHAT CHANGES", tuple(changes) or ("Nothing changes for anybody.",)),
    )
    body = "\n\n".join("\n".join((title, *(_wrapped(line) for line in lines))) for title, lines in sections)
    return f"{day.kitchen}, {day.date:%a %-d %b %Y}\n\n{body}\n\n{fill(redrawn.plan.caution, _WIDTH)}\n"


def fairness_words(redrawn: Redrawn) -> tuple[str, ...]:
    """How evenly the work is spread, against what is proven, how far people are where they like to be, and how much
    of the rota changes.
    """
    measured, wishes = redrawn.measured, redrawn.wishes
    kept = "with what is kept " if redrawn.kept else ""
    waiting = f", with {redrawn.unfilled_before} min that nobody had" if redrawn.unfilled_before else ""
    spread = (
        f"Spread of work: {measured.spread_minutes:.1f} min, the root mean square of people's minutes, less when "
        f"shared more evenly. Proven: {kept}no rota is below {measured.spread_bound:.1f} min (gap {measured.gap:.1%}). "
        f"Before: {redrawn.spread_before:.1f} min{waiting}."
    )
    worked = sum(one.end - one.start for one in redrawn.plan.assignments)
    changed = (
        f"Changes: {redrawn.changed_minutes} of {worked} minutes of work have another person than before."
    )
    if not wishes.of_minutes:
        return spread, "Wishes: nobody who works said where they like to be.", changed
    liked = (
        f"Wishes: {wishes.met_minutes} of {wishes.of_minutes} minutes of those who said where they like to be "
        f"({wishes.met_minutes / wishes.of_minutes:.0%}) are there."
    )
    return spread, liked, changed


class _RotaText:
    """The sections of one rota's text."""

    def __init__(self, day: Day, redrawn: Redrawn) -> None:
        self._day, self._kept = day, redrawn.kept
        self._plan: Plan = redrawn.plan
        self._tasks = {task.id: task for task in self._plan.tasks}
        self._words = {load.id: load_words(day, load) for load in self._plan.loads}
        self._names = {person.id: person.name for person in day.people}

    def people(self) -> Iterator[str]:
        """Everybody with their work in the order of the clock, idle people too."""
        for person in self._day.people:
            mine = [one for one in self._plan.assignments if one.person_id == person.id]
            if not mine:
                yield f"{person.name}: nothing planned"
                continue
            minutes = busy_minutes(Work(one.start, one.end, "") for one in mine)
            yield f"{person.name}, {minutes} min"
            yield from (self._line(one) for one in mine)

    def stations(self) -> Iterator[str]:
        """Each station with who is there when."""
        for station, title in _STATIONS.items():
            here = [
                one for one in self._plan.assignments if STATION_OF[self._tasks[one.task_id].kind] is station
            ]
            if here:
                yield title
                yield from (self._line(one, f"{self._names[one.person_id]}: ") for one in here)

    def _line(self, one: Assignment, who: str = "") -> str:
        task = self._tasks[one.task_id]
        when = f"{clock_words(self._day, one.start)} to {clock_words(self._day, one.end)}"
        kept = ", kept" if self._is_kept(one) else ""
        return f"  {when} {who}{self._work(task, one)} {self._words[task.load_id]} ({task.id}{kept})"

    def _work(self, task: Task, one: Assignment) -> str:
        person = next(each for each in self._day.people if each.id == one.person_id)
        beside = task.kind is TaskKind.WATCH and not person.may_watch
        return "learns beside the watch of" if beside else TASK_WORDS[task.kind]

    def _is_kept(self, one: Assignment) -> bool:
        return any(
            (each.task_id, each.person_id) == (one.task_id, one.person_id)
            and each.start < one.end
            and one.start < each.end
            for each in self._kept
        )


def _wrapped(line: str) -> str:
    return line if line.startswith(" ") else fill(line, _WIDTH, subsequent_indent="  ")
