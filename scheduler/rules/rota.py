"""What a rota may ask of one person: rules "breaks", "shift", "station" and "company".

On a day under way the first two are advice and not judged: nothing begun is moved so that somebody may rest.
"""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Sequence
from dataclasses import dataclass

from scheduler.interval import Span, covered, intersect, merge
from scheduler.plan import Assignment, Task, TaskKind
from scheduler.problem import Person, StationKind
from scheduler.rules.case import Case, Violation
from scheduler.rules.people import STATION

_AT = {**STATION, TaskKind.WATCH: StationKind.CANNER, TaskKind.CLEANING: StationKind.PREP}


@dataclass(frozen=True, slots=True)
class _Spell:
    """Work from a minute to another that no rest of the asked length interrupts."""

    start: int
    end: int
    parts: tuple[tuple[Assignment, Task], ...]

    @property
    def is_one_watch(self) -> bool:
        """True when one watch lasts all the time: it is not left for a rest (rule S9)."""
        return any(
            task.kind is TaskKind.WATCH and one.start == self.start and one.end == self.end
            for one, task in self.parts
        )

    @property
    def busy_minutes(self) -> int:
        """The minutes in which there is something to do."""
        return sum(span.minutes for span in merge(Span(one.start, one.end) for one, _ in self.parts))


def check_breaks(case: Case) -> Iterator[Violation]:
    """ "breaks": nobody works on beyond the kitchen's limits without a rest and without a meal."""
    policy = case.day.policy
    for person, work in _by_person(case):
        for rest, limit in (
            (policy.break_minutes, policy.break_every_minutes),
            (policy.meal_minutes, policy.meal_after_minutes),
        ):
            for spell in _spells(work, rest):
                if spell.end - spell.start > limit and not spell.is_one_watch:
                    yield Violation(
                        rule="breaks",
                        message=f"{person.name} works from {case.clock(spell.start)} to {case.clock(spell.end)} "
                        f"without {rest} minutes of rest; the kitchen allows {limit} minutes.",
                    )


def check_shifts(case: Case) -> Iterator[Violation]:
    """ "shift": no day is longer than the kitchen or the person allows, with a night's rest between two days."""
    policy = case.day.policy
    for person, work in _by_person(case):
        for spell in _spells(work, policy.rest_minutes):
            if spell.end - spell.start > policy.longest_shift_minutes:
                yield Violation(
                    rule="shift",
                    message=f"{person.name} is there from {case.clock(spell.start)} to {case.clock(spell.end)} without "
                    f"{policy.rest_minutes} minutes of rest; a shift has at most {policy.longest_shift_minutes}.",
                )
            if person.most_minutes is not None and spell.busy_minutes > person.most_minutes:
                yield Violation(
                    rule="shift",
                    message=f"{person.name} works {spell.busy_minutes} minutes in the day that begins at "
                    f"{case.clock(spell.start)}, and said {person.most_minutes} at most.",
                )


def check_stations(case: Case) -> Iterator[Violation]:
    """ "station": nobody is where they cannot work, and there is time to walk from one station to the next."""
    walking = case.day.policy.walking_minutes
    for person, work in _by_person(case, also_under_way=True):
        for _, task in work:
            if _AT[task.kind] in person.cannot:
                yield Violation(
                    rule="station",
                    message=f"{person.name} cannot work at {_AT[task.kind]} (task {task.id}).",
                    load_id=task.load_id,
                )
        for (before, left), (after, came) in _changes(work if case.day.floor is None else ()):
            if before.end <= after.start < before.end + walking and _AT[left.kind] is not _AT[came.kind]:
                yield Violation(
                    rule="station",
                    message=f"{person.name} has {after.start - before.end} minutes to get from {_AT[left.kind]} to "
                    f"{_AT[came.kind]} at {case.clock(after.start)}; it takes {walking}.",
                    load_id=came.load_id,
                )


def check_company(case: Case) -> Iterator[Violation]:
    """ "company": whoever comes and goes with somebody works only while both are here."""
    for person, work in _by_person(case, also_under_way=True):
        other = case.people.get(person.comes_with or "")
        if other is None:
            continue
        both = intersect(person.hours, other.hours)
        for one, task in work:
            if not covered(Span(one.start, one.end), both):
                yield Violation(
                    rule="company",
                    message=f"{person.name} comes and goes with {other.name}, who is not here for all of "
                    f"{case.clock(one.start)} to {case.clock(one.end)} (task {task.id}).",
                    load_id=task.load_id,
                )


Work = Sequence[tuple[Assignment, Task]]


def _by_person(case: Case, *, also_under_way: bool = False) -> Iterator[tuple[Person, Work]]:
    """Everybody with their work in the order of the clock; nobody on a day under way unless asked for."""
    if case.day.floor is not None and not also_under_way:
        return
    for person in case.day.people:
        work = [
            (one, case.tasks[one.task_id])
            for one in case.ahead
            if one.person_id == person.id and one.task_id in case.tasks and one.start < one.end
        ]
        yield person, sorted(work, key=lambda pair: pair[0].start)


def _changes(work: Work) -> Iterator[tuple[tuple[Assignment, Task], tuple[Assignment, Task]]]:
    """Each piece of work with the one that ended last of those begun before it: of two watches, the longer."""
    for number, after in enumerate(work):
        yield max(work[:number], key=lambda pair: pair[0].end, default=after), after


def _spells(work: Iterable[tuple[Assignment, Task]], rest_minutes: int) -> Iterator[_Spell]:
    parts: list[tuple[Assignment, Task]] = []
    for one, task in work:
        if parts and one.start - max(part.end for part, _ in parts) >= rest_minutes:
            yield _spell(parts)
            parts = []
        parts.append((one, task))
    if parts:
        yield _spell(parts)


def _spell(parts: Sequence[tuple[Assignment, Task]]) -> _Spell:
    return _Spell(parts[0][0].start, max(one.end for one, _ in parts), tuple(parts))
