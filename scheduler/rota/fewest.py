"""The fewest people who can take all seats: how few can run this day?

From a first answer one person after the other is freed: somebody with little to do gives seats away to a few others,
as the constraint solver finds possible, until nothing is left. Small questions like these it answers in a moment, where
the whole in one model takes far too long. Rests and limits of the rota do not enter.
"""

from __future__ import annotations

import threading
from collections.abc import Callable, Iterable, Sequence
from dataclasses import dataclass
from random import Random

from ortools.sat.python import cp_model

from scheduler.errors import BadRota
from scheduler.rota.fewest_first import first_answers
from scheduler.rota.question import Question, Taken

_LEAST_OTHERS, _MOST_OTHERS = 6, 20
# One small question may take so long, in the solver's own count, which is the same on every machine.
_STEP_SECONDS = 0.6
# A person's seat is worth this much more than a minute of it: fewer seats are sooner none.
_SEAT_WORTH_MINUTES = 40
_NEWCOMERS = 6


@dataclass(frozen=True, slots=True, kw_only=True)
class Fewest:
    """So many people are enough, who takes which seat, and how many it takes at least."""

    people: int
    taken: Taken
    bound: int
    bound_name: str

    @property
    def is_proved(self) -> bool:
        """True when no fewer can do it."""
        return self.people <= self.bound


def fewest_people(
    question: Question, *, seconds: float, seed: int, workers: int, clock: Callable[[], float]
) -> Fewest:
    """The fewest people found in ``seconds``, read from ``clock``, by so many searches side by side.

    ``BadRota`` when a seat can be taken by nobody, or no way was found to take them all.
    """
    until = clock() + seconds
    bound, moment = _most_at_once(question)
    shared = _Shared(_first(question, seed, seconds), bound, lambda: clock() >= until)
    dice = [Random(f"fewest {seed}/{number}") for number in range(workers)]  # noqa: S311 - repeatable, no secret
    searches = [threading.Thread(target=_search, args=(question, shared, one)) for one in dice]
    for search in searches:
        search.start()
    for search in searches:
        search.join()
    return Fewest(
        people=shared.people,
        taken=tuple(shared.taken),
        bound=bound,
        bound_name=f"seats at once at {moment}",
    )


class _Shared:
    """The best answer of searches that run side by side."""

    def __init__(self, taken: Sequence[int], bound: int, is_over: Callable[[], bool]) -> None:
        self.taken = list(taken)
        self.people = len(set(taken))
        self.bound = bound
        self._is_over = is_over
        self._lock = threading.Lock()

    @property
    def must_stop(self) -> bool:
        """True when time is up, or nobody can do better."""
        return self.people <= self.bound or self._is_over()

    def offer(self, taken: Sequence[int]) -> None:
        """Take an answer if it is better."""
        with self._lock:
            if len(set(taken)) < self.people:
                self.taken, self.people = list(taken), len(set(taken))

    def better(self, taken: list[int]) -> list[int]:
        """The best answer if it is better than this, else this."""
        with self._lock:
            return list(self.taken) if self.people < len(set(taken)) else taken


def _most_at_once(question: Question) -> tuple[int, int]:
    """The most seats that run at one moment, and when: so many people it takes."""
    edges = sorted({seat.start for seat in question.seats})
    counts = [(sum(seat.start <= edge < seat.end for seat in question.seats), edge) for edge in edges]
    return max(counts, key=lambda one: (one[0], -one[1]), default=(0, 0))


def _cliques(question: Question, seats: Iterable[int]) -> list[list[int]]:
    """The largest sets of these seats that run at one moment: one person takes one of each."""
    ordered = sorted(seats, key=lambda number: question.seats[number].start)
    running: list[int] = []
    found: list[list[int]] = []
    grown = False
    for number in ordered:
        start = question.seats[number].start
        ended = [one for one in running if question.seats[one].end <= start]
        if ended and grown:
            found.append(running.copy())
        running = [one for one in running if question.seats[one].end > start] + [number]
        grown = True
    if running:
        found.append(running)
    return [one for one in found if len(one) > 1]


class _Model:
    """Seats and people in the constraint solver: who may take what, one seat at a time."""

    def __init__(self, question: Question, seats: Sequence[int], people: Iterable[int]) -> None:
        self.model = cp_model.CpModel()
        self.people = sorted(people)
        self.takes: dict[tuple[int, int], cp_model.IntVar] = {
            (seat, person): self.model.new_bool_var("")
            for seat in seats
            for person in self.people
            if person in question.seats[seat].able
        }
        for seat in seats:
            self.model.add_exactly_one(
                self.takes[seat, person] for person in self.people if (seat, person) in self.takes
            )
        for person in self.people:
            mine = [seat for seat in seats if (seat, person) in self.takes]
            for clique in _cliques(question, mine):
                self.model.add_at_most_one(self.takes[seat, person] for seat in clique)

    def replace(self, newcomers: Iterable[int], group: Iterable[int]) -> None:
        """A newcomer may stand in for somebody of the group who then does nothing, never come in addition."""
        comes = [self._flag(person, idle=False) for person in newcomers]
        goes = [self._flag(person, idle=True) for person in sorted(group)] if comes else []
        if comes:
            self.model.add(sum(comes) <= sum(goes))

    def _flag(self, person: int, *, idle: bool) -> cp_model.IntVar:
        """True only if a person does nothing, or true if the person does anything."""
        flag = self.model.new_bool_var("")
        for (_, one), variable in self.takes.items():
            if one == person:
                self.model.add_implication(variable, flag.negated() if idle else flag)
        return flag

    def solve(self, seconds: float, seed: int, hint: Sequence[int] = ()) -> dict[int, int] | None:
        """Who takes each seat, or None when nothing was found."""
        for (seat, person), variable in self.takes.items() if hint else ():
            self.model.add_hint(variable, hint[seat] == person)
        solver = cp_model.CpSolver()
        solver.parameters.num_workers = 1
        solver.parameters.random_seed = seed
        solver.parameters.max_time_in_seconds = 4 * seconds
        solver.parameters.max_deterministic_time = seconds
        status = solver.solve(self.model)
        if status not in (cp_model.OPTIMAL, cp_model.FEASIBLE):
            return None
        return {
            seat: person for (seat, person), variable in self.takes.items() if solver.boolean_value(variable)
        }


def _first(question: Question, seed: int, seconds: float) -> list[int]:
    """The best of the quick answers that take all seats; if none does, one by the solver."""
    whole = [one for one in first_answers(question) if len(one) == len(question.seats)]
    holder = min(whole, key=lambda one: len(set(one.values())), default=None)
    if holder is None:
        model = _Model(question, range(len(question.seats)), range(len(question.helpers)))
        holder = model.solve(max(1.0, seconds / 2), seed)
    if holder is None:
        raise BadRota("No way was found to take all seats.", remedy="Allow more time, or name more people.")
    return [holder[number] for number in range(len(question.seats))]


def _search(question: Question, shared: _Shared, random: Random) -> None:
    """Free one person after the other until the time is up."""
    taken = list(shared.taken)
    others = _LEAST_OTHERS
    while not shared.must_stop:
        taken = shared.better(taken)
        others = others + 1 if others < _MOST_OTHERS else _LEAST_OTHERS
        step = _step(question, taken, random, others)
        if step is not None:
            taken = step
            shared.offer(taken)


def _worth(question: Question, seats: Iterable[int]) -> int:
    return sum(question.seats[seat].minutes + _SEAT_WORTH_MINUTES for seat in seats)


def _step(question: Question, taken: list[int], random: Random, others: int) -> list[int] | None:
    """Let somebody give seats away to a few people and newcomers; None when that leads nowhere."""
    by_person: dict[int, list[int]] = {}
    for seat, person in enumerate(taken):
        by_person.setdefault(person, []).append(seat)
    least = sorted(by_person, key=lambda person: (_worth(question, by_person[person]), random.random()))
    victim = least[min(len(least) - 1, int(random.expovariate(1.0)))]
    group = {victim, *_helpful(question, by_person, victim, random, others)}
    seats = sorted(seat for person in group for seat in by_person[person])
    newcomers = _newcomers(question, by_person, seats, random)
    model = _Model(question, seats, [*group, *newcomers])
    model.replace(newcomers, group - {victim})
    model.model.minimize(
        sum(
            (question.seats[seat].minutes + _SEAT_WORTH_MINUTES) * variable
            for (seat, person), variable in model.takes.items()
            if person == victim
        )
    )
    found = model.solve(_STEP_SECONDS, random.randrange(1 << 30), taken)
    if found is None:
        return None
    after = taken.copy()
    for seat, person in found.items():
        after[seat] = person
    return after


def _newcomers(
    question: Question, by_person: dict[int, list[int]], seats: Sequence[int], random: Random
) -> list[int]:
    """Some of the idle people, sooner those who may take many of these seats."""
    useful = {
        person: sum(person in question.seats[seat].able for seat in seats)
        for person in range(len(question.helpers))
        if person not in by_person
    }
    return sorted(useful, key=lambda person: -useful[person] * random.random())[:_NEWCOMERS]


def _helpful(
    question: Question, by_person: dict[int, list[int]], victim: int, random: Random, count: int
) -> list[int]:
    """People in use who may take something of the victim's, or of those who may; some by chance."""
    able = {person for seat in by_person[victim] for person in question.seats[seat].able} & by_person.keys()
    near = sorted(able - {victim})
    random.shuffle(near)
    far = sorted(by_person.keys() - able - {victim})
    random.shuffle(far)
    most_near = max(1, count * 2 // 3)
    return (near[:most_near] + far + near[most_near:])[:count]
