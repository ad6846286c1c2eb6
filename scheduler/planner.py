"""The front door: a day in, a plan out, with its proof and its reasons."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass
from functools import cache, partial
from random import Random

from scheduler.core import solve
from scheduler.digest import day_digest
from scheduler.errors import BadDay
from scheduler.plan import Level, Plan, Provenance
from scheduler.problem import Day
from scheduler.rota.rested import able, rested
from scheduler.search.bounds import Bound, bounds_of
from scheduler.search.decode import Decoder
from scheduler.search.explain import left_out
from scheduler.search.forming import formed_order
from scheduler.search.improve import EFFORT_PER_SECOND, Outcome, improve, make_ready, simple_orders
from scheduler.search.options import Options, longest_watch_minutes, options_of
from scheduler.search.placed import Decoded, Score
from scheduler.search.proof import Proof
from scheduler.search.staffed import staffed
from scheduler.search.write import write_plan

PLANNER = "annealed loads and rota 4"
"""Names the way plans are made; it changes when the same question would be answered otherwise."""

LEAST_LIMIT_SECONDS = 5.0
"""A small effort is given this long all the same: a busy machine may take seconds over what is usually a moment, and
the same day and seed should still give the same plan."""

FORMING_SECONDS = 0.5
"""From this much time on, the core forms loads for the search to begin from."""

PROOF_SECONDS = 2.0
"""From this much time on, the constraint solver proves closer bounds beside the search."""

ROUNDS = 3
RESTS_TRIED_PER_SECOND, MOST_RESTS_TRIED = 10, 60
"""The search goes on in so many rounds. Between two of them it tries so many other choices of when people rest."""
_RESTS_OF_ALL, _RESTS_OF_ONE = 4, 8

ROTA_TRIES_PER_SECOND = 5_000
MOST_ROTA_TRIES = 100_000
"""How many changes of the rota are tried for a second of the plan's effort; more than so many gain little."""

LEVELS = (
    ("jars left out", "jars"),
    ("lateness", "minutes"),
    ("last jar out", "minutes since the day's origin"),
    ("canner time", "minutes"),
    ("loads", "loads"),
    ("changeovers", "changeovers"),
)


@dataclass(frozen=True, slots=True, kw_only=True)
class Progress:
    """How a running search stands: the levels of the best day so far, with their bounds."""

    levels: tuple[Level, ...]
    iterations: int
    elapsed_seconds: float


def plan(
    day: Day,
    *,
    seconds: float,
    seed: int,
    clock: Callable[[], float],
    on_progress: Callable[[Progress], None] | None = None,
    should_stop: Callable[[], bool] | None = None,
    prove: bool = True,
) -> Plan:
    """The best plan found for a day: never worse, level by level, than any simple rule.

    ``seconds`` sets the effort, counted in places looked at, so that the same day and seed give the same plan
    on every machine; as wall time, read from ``clock``, it is the limit. ``should_stop`` is asked between
    tries, and the best plan so far is returned. ``provenance.stopped_because`` says which it was: only
    "effort spent" and "proven best" repeat. ``prove`` has the constraint solver look for closer bounds beside the
    search; one of many trials has no use for them. ``BadDay`` for a day under way, whose rest ``replan`` plans.
    """
    if day.floor is not None:
        raise BadDay(
            "This day is under way: what has begun cannot be planned.", remedy="Plan the rest of it again."
        )
    run = _Run(day, seconds, clock, on_progress, should_stop)
    if not prove or seconds < PROOF_SECONDS:
        return run.plan(seed, _cheap(day, run.options))
    with Proof(day, run.options, run.seconds_left) as proof:
        return run.plan(seed, proof.now, proof.final)


_OVER = ("proven best", "asked to stop", "time limit")
"""Why a search ends that no further round follows."""

BoundsFor = Callable[[int], tuple[Bound, ...]]
"""What is proven about days that leave out no more than so many jars."""


def _cheap(day: Day, options: Options) -> BoundsFor:
    return cache(partial(bounds_of, day, options))


class _Run:
    """One search for a plan: its clock, its best day so far, and whom it tells."""

    def __init__(
        self,
        day: Day,
        seconds: float,
        clock: Callable[[], float],
        on_progress: Callable[[Progress], None] | None,
        should_stop: Callable[[], bool] | None,
    ) -> None:
        self.day, self.seconds, self.clock = day, seconds, clock
        self.on_progress, self.should_stop = on_progress, should_stop
        self.begun = clock()
        self.options = options_of(day)
        self.decoder = Decoder(day, self.options)
        self._choices = (0,) * len(day.people)
        ready_at = clock()
        make_ready(self.decoder)
        if seconds >= FORMING_SECONDS:
            solve.make_ready()
        self.begun += clock() - ready_at  # To translate the search, once on a machine, is not to plan.

    def seconds_left(self) -> float:
        """Of the time limit; none after a stop."""
        if self.should_stop is not None and self.should_stop():
            return 0.0
        return self.begun + max(self.seconds, LEAST_LIMIT_SECONDS) - self.clock()

    def plan(
        self, seed: int, bounds: BoundsFor, final: BoundsFor | None = None, rounds: int = ROUNDS
    ) -> Plan:
        """Search, and write down the best day with what is proven about it."""
        decoder = self.decoder
        best = min(_simple(self.day, decoder).values(), key=lambda decoded: decoded.score)

        def tell(better: Decoded, iterations: int) -> None:
            nonlocal best
            best = better
            if self.on_progress is not None:
                levels = _levels(best.score, bounds(best.score[0]))
                elapsed = self.clock() - self.begun
                self.on_progress(Progress(levels=levels, iterations=iterations, elapsed_seconds=elapsed))

        def stop() -> str | None:
            if self.should_stop is not None and self.should_stop():
                return "asked to stop"
            if best.score <= _least(bounds(best.score[0])):
                return "proven best"
            return "time limit" if self.seconds_left() <= 0 else None

        tell(best, 0)
        if self.seconds >= FORMING_SECONDS:
            formed = decoder.decode(formed_order(self.day, self.options, seed))
            if formed.score < best.score:
                tell(formed, 0)
        thorough = self.seconds >= FORMING_SECONDS
        rounds = rounds if thorough else 1
        decoder, tries, reason = self._improved(lambda: best, rounds, seed, bounds, stop, tell)
        rota_tries = min(MOST_ROTA_TRIES, int(self.seconds * ROTA_TRIES_PER_SECOND)) if thorough else 0
        return _written(self.day, decoder, Outcome(best, tries, reason), seed, final or bounds, rota_tries)

    def _improved(
        self,
        best: Callable[[], Decoded],
        rounds: int,
        seed: int,
        bounds: BoundsFor,
        stop: Callable[[], str | None],
        tell: Callable[[Decoded, int], None],
    ) -> tuple[Decoder, int, str]:
        """Search in rounds; ``tell`` hears of every better day. The decoder of the best one, tries, why it ended."""
        decoder, tries, reason = self.decoder, 0, ""
        rests = min(MOST_RESTS_TRIED, int(self.seconds * RESTS_TRIED_PER_SECOND))
        for number in range(rounds):
            decoder, start = self._rechosen(decoder, best(), rests if number else 0, seed + number)
            if start.score < best().score:
                tell(start, tries)
            outcome = improve(
                decoder,
                start,
                seed=seed + number,
                effort=int(self.seconds * EFFORT_PER_SECOND) // rounds,
                least=_least(bounds(start.score[0])),
                stop=stop,
                on_better=tell,
            )
            tries, reason = tries + outcome.iterations, outcome.stopped_because
            if reason in _OVER:
                break
        return decoder, tries, reason

    def _rechosen(self, decoder: Decoder, best: Decoded, tries: int, seed: int) -> tuple[Decoder, Decoded]:
        """Rests at other times, where the order of the best day makes a better one then."""
        random = Random(f"rests {seed}")  # noqa: S311 - a repeatable search, not a secret.
        start, people = best, len(self.day.people)
        for number in range(tries if people else 0):
            choices = list(self._choices)
            if number < _RESTS_OF_ALL:
                choices = [one + 1 + number for one in choices]
            else:
                choices[random.randrange(people)] += random.randrange(1, _RESTS_OF_ONE)
            there = rested(self.day, longest_watch_minutes(self.options), choices)
            other = Decoder(self.day, self.options, there=there)
            day = other.decode(best.turns)
            if day.score < start.score:
                decoder, start, self._choices = other, day, tuple(choices)
        return decoder, start


def simple_rules(day: Day) -> dict[str, Plan]:
    """The day as each simple rule would have it, by the rule's name."""
    options = options_of(day)
    decoder = Decoder(day, options)
    return {
        name: _written(day, decoder, Outcome(decoded, 0, name), 0, _cheap(day, options), 0)
        for name, decoded in _simple(day, decoder).items()
    }


def loads_then_rota(day: Day, *, seconds: float, seed: int, clock: Callable[[], float]) -> Plan:
    """The day as it comes out when loads are planned first, by heads alone, and people are then found for them.

    For comparison: the search is the same, but it does not know that people rest. Loads that nobody can be found for
    are left out.
    """
    run = _Run(day, seconds, clock, None, None)
    run.decoder = Decoder(day, run.options, there=able(day))
    return run.plan(seed, _cheap(day, run.options), rounds=1)


def _simple(day: Day, decoder: Decoder) -> dict[str, Decoded]:
    longest = [min((option.family[2] for option in row), default=0) for row in decoder.options.by_batch]
    return {name: decoder.decode(genes) for name, genes in simple_orders(day, longest).items()}


def _levels(score: Score, bounds: tuple[Bound, ...]) -> tuple[Level, ...]:
    return tuple(
        Level(name=name, value=value, bound=min(bound.value, value), bound_name=bound.name, unit=unit)
        for (name, unit), value, bound in zip(LEVELS, score, bounds, strict=True)
    )


def _least(bounds: tuple[Bound, ...]) -> Score:
    left, late, out, minutes, loads, changes = (bound.value for bound in bounds)
    return (left, late, out, minutes, loads, changes)


def _written(
    day: Day, decoder: Decoder, outcome: Outcome, seed: int, bounds: BoundsFor, rota_tries: int
) -> Plan:
    options = decoder.options
    people = staffed(day, decoder.there, outcome.best, tries=rota_tries, seed=seed)
    best = people.decoded
    return write_plan(
        day,
        best,
        digest=day_digest(day),
        levels=_levels(best.score, bounds(best.score[0])),
        left_out=left_out(day, options, best, people.given_up),
        assignments=people.assignments,
        warnings=options.out_of_service,
        provenance=Provenance(
            planner=PLANNER, seed=seed, iterations=outcome.iterations, stopped_because=outcome.stopped_because
        ),
    )
