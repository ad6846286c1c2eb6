"""The front door of the core: a question in, the best answer found and what is proven about it out."""

from __future__ import annotations

import time
from collections.abc import Callable, Sequence
from concurrent.futures import Future, ThreadPoolExecutor
from dataclasses import dataclass

from scheduler.core.anneal import Best, anneal, recall
from scheduler.core.arrays import arrays_of
from scheduler.core.bounds import least_cost
from scheduler.core.prove import Proof, Prover, can_prove
from scheduler.core.question import Answer, Job, Machine, Question, Weights
from scheduler.core.rows import BEST_COST, MOVES, NOT_PLACED, NOW_COST, State
from scheduler.core.state import batches_of, first_state
from scheduler.errors import BadDay
from scheduler.interval import Span

CHUNK = 20_000
"""Moves between two looks at the clock."""

# Rounds of annealing. Most begin warm and find different valleys: several short ones find more than one long one, and
# some questions like it warmer than others. The last two search around the best, with a share of the time and a warmth
# relative to the first. Tried on the published instances.
_WARMTHS = (1.0, 5.0, 0.25)
_LAST_ROUNDS = ((0.1, 0.1), (0.1, 0.03))
_ROUND_SECONDS, _LEAST_ROUNDS, _MOST_ROUNDS = 4.0, 4, 60
# The first warmth: a share of what a usual load's run or one late job costs. The last: half of the smallest weight.
_WARM, _COOL, _LEAST_COOL = 0.3, 0.5, 0.2
# A proof is tried when there are so many seconds, for larger questions when there are more.
_PROOF_SECONDS, _LONG_SECONDS, _SOON_JOBS = 5.0, 30.0, 30

Thread = tuple[State, Best]


@dataclass(frozen=True, slots=True)
class _Round:
    """A share of the budget. ``warmths`` are taken in turn by the threads, relative to the first warmth."""

    share: float
    warmths: tuple[float, ...]
    from_best: bool

    def warmth(self, thread: int) -> float:
        return self.warmths[thread % len(self.warmths)]


@dataclass(frozen=True, slots=True)
class Budget:
    """How long to search: seconds, or else a number of moves, which gives the same answer on every machine."""

    seconds: float
    moves: int | None = None


def solve(
    question: Question,
    *,
    budget: Budget,
    workers: int,
    seed: int,
    on_progress: Callable[[Answer], None] | None = None,
    should_stop: Callable[[], bool] | None = None,
) -> Answer:
    """The best answer found. It ends early when that is proven best or ``should_stop`` says so.

    One of several workers is given to the constraint solver, if it can do something for the question; not with
    ``budget.moves``, whose answer repeats for the same seed.

    Raises:
        BadDay: no answer was found that keeps every machine's hours.
    """
    search = _Search(question, budget, workers, seed, should_stop)
    with ThreadPoolExecutor(workers) as pool:
        search.run(pool, on_progress)
    answer = search.answer()
    if answer.cost >= NOT_PLACED:
        raise BadDay(
            "No schedule was found that keeps every machine's hours.", remedy="Give more time or hours."
        )
    return answer


class _Search:
    """One search: its threads, the best answer, and what is proven."""

    def __init__(
        self,
        question: Question,
        budget: Budget,
        workers: int,
        seed: int,
        should_stop: Callable[[], bool] | None,
    ) -> None:
        self.begun = time.monotonic()
        self.question, self.budget, self.seed, self.should_stop = question, budget, seed, should_stop
        self.arrays = arrays_of(question)
        self.threads = [first_state(question, self.arrays, seed * workers + n) for n in range(workers)]
        self.bound, self.bound_name = least_cost(question), "each part of the cost at its least"
        self.solved: Proof | None = None
        self.warm, self.cool = _warmth(question)

    def run(self, pool: ThreadPoolExecutor, on_progress: Callable[[Answer], None] | None) -> None:
        """All rounds. After the first, one thread may go to the solver; the others share the best."""
        prover: Prover | None = None
        proof: Future[Proof] | None = None
        threads, done = self.threads, 0.0
        for number, round_ in enumerate(_rounds(self.budget)):
            if number == 1 and self._proof_wanted():
                threads = threads[:-1]
                prover = Prover(self.question)
                proof = pool.submit(self._prove, prover)
            if number:
                self._start_again(threads, from_best=round_.from_best)
            until = done + round_.share
            running = [
                pool.submit(self._anneal, thread, done, until, round_.warmth(nth))
                for nth, thread in enumerate(threads)
            ]
            for one in running:
                one.result()
            done = until
            if proof is not None and proof.done():
                self._take(proof.result())
            if on_progress is not None:
                on_progress(self.answer())
            if self._is_over():
                break
        if prover is not None and proof is not None:
            prover.stop()
            self._take(proof.result())

    def answer(self) -> Answer:
        """The best so far."""
        if (
            self.solved is not None
            and self.solved.batches is not None
            and self.solved.cost < self._annealed_cost()
        ):
            batches, cost = self.solved.batches, self.solved.cost
        else:
            batches, cost = batches_of(self.question, self._best()[1]), self._annealed_cost()
        return Answer(batches=batches, cost=cost, bound=min(self.bound, cost), bound_name=self.bound_name)

    def _best(self) -> Thread:
        return min(self.threads, key=lambda thread: int(thread[0].total[BEST_COST]))

    def _annealed_cost(self) -> int:
        return int(self._best()[0].total[BEST_COST])

    def _cost(self) -> int:
        return min(self._annealed_cost(), self.solved.cost if self.solved is not None else NOT_PLACED)

    def _elapsed(self) -> float:
        return time.monotonic() - self.begun

    def _is_over(self) -> bool:
        return self._cost() <= self.bound or (self.should_stop is not None and self.should_stop())

    def _anneal(self, thread: Thread, after: float, until: float, warmth: float) -> None:
        """One thread's round, from one share of the whole budget to another."""
        state, best = thread
        warm = max(self.warm * warmth, self.cool)
        first = int(state.total[MOVES])
        while not self._is_over():
            share = self._share(state, first, after)
            if share >= until:
                break
            at = (share - after) / (until - after)
            now = warm * (self.cool / warm) ** at
            anneal(self.arrays, state, best, CHUNK, now, now)

    def _share(self, state: State, first: int, after: float) -> float:
        """The share of the budget that is used up."""
        if self.budget.moves is not None:
            return after + (int(state.total[MOVES]) - first) / max(self.budget.moves, 1)
        return self._elapsed() / max(self.budget.seconds, 1e-9)

    def _start_again(self, threads: Sequence[Thread], *, from_best: bool) -> None:
        """A new round: from each thread's own best, or all from the best of all."""
        best = self._best()[1]
        for state, own in threads:
            if from_best and own is not best:
                for mine, theirs in zip(own, best, strict=True):
                    mine[:] = theirs
            recall(self.arrays, state, own)
            state.total[BEST_COST] = state.total[NOW_COST]

    def _proof_wanted(self) -> bool:
        if self.budget.moves is not None or len(self.threads) < 2 or not can_prove(self.question):
            return False
        long = self.budget.seconds >= _LONG_SECONDS or len(self.question.jobs) <= _SOON_JOBS
        return self.budget.seconds >= _PROOF_SECONDS and long

    def _prove(self, prover: Prover) -> Proof:
        left = self.budget.seconds - self._elapsed()
        known = batches_of(self.question, self._best()[1])
        return prover.prove(known, self._annealed_cost(), self.bound, left, self.seed)

    def _take(self, proof: Proof) -> None:
        """What the solver showed. A better answer that it was cut short on may still be beaten by annealing."""
        self.solved = proof
        if proof.bound > self.bound:
            self.bound, self.bound_name = proof.bound, "constraint solver"


def _rounds(budget: Budget) -> list[_Round]:
    """Warm rounds of a few seconds each, each with its warmths one place on; then those around the best."""
    count = min(max(int(budget.seconds / _ROUND_SECONDS), _LEAST_ROUNDS), _MOST_ROUNDS)
    if budget.moves is not None:
        count = 1  # A number of moves is given to short searches.
    share = (1 - sum(share for share, _ in _LAST_ROUNDS)) / count
    warm = [
        _Round(
            share, _WARMTHS[number % len(_WARMTHS) :] + _WARMTHS[: number % len(_WARMTHS)], from_best=False
        )
        for number in range(count)
    ]
    return warm + [_Round(share, (warmth,), from_best=True) for share, warmth in _LAST_ROUNDS]


def _warmth(question: Question) -> tuple[float, float]:
    """The first and the last warmth of a round."""
    weights = question.weights
    runs = [min(minutes for minutes in job.minutes if minutes is not None) for job in question.jobs]
    usual = sum(runs) / max(len(runs), 1)
    least = min(
        (weight for weight in (weights.run, weights.late, weights.tardy, weights.setup) if weight), default=1
    )
    return max(weights.run * usual, weights.late, weights.tardy * usual) * _WARM, max(
        _LEAST_COOL, least * _COOL
    )


def make_ready() -> None:
    """Have the loop translated to machine code, so that the first search does not spend its time on it."""
    machine = Machine(capacity=(1,), windows=(Span(0, 2),), family_at_first=0)
    jobs = tuple(Job(family=0, size=1, release=0, due=2, minutes=(1,), most_minutes=1) for _ in range(2))
    tiny = Question(
        machines=(machine,), jobs=jobs, setup_minutes=((0,),), setup_cost=((0,),), weights=Weights(late=1)
    )
    arrays = arrays_of(tiny)
    state, best = first_state(tiny, arrays, seed=0)
    anneal(arrays, state, best, 1, 1.0, 1.0)
    recall(arrays, state, best)
