"""The front door: a day in, a plan out, with its proof and its reasons."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass
from functools import cache, partial

from scheduler.core import solve
from scheduler.digest import day_digest
from scheduler.errors import BadDay
from scheduler.plan import Level, Plan, Provenance
from scheduler.problem import Day
from scheduler.search.bounds import Bound, bounds_of
from scheduler.search.decode import Decoder
from scheduler.search.explain import left_out
from scheduler.search.forming import formed_order
from scheduler.search.improve import EFFORT_PER_SECOND, Outcome, improve, make_ready, simple_orders
from scheduler.search.options import Options, options_of
from scheduler.search.placed import Decoded, Score
from scheduler.search.proof import Proof
from scheduler.search.write import write_plan

PLANNER = "annealed loads 3"
"""Names the way plans are made; it changes when the same question would be answered otherwise."""

LEAST_LIMIT_SECONDS = 5.0
"""A small effort is given this long all the same: a busy machine may take seconds over what is usually a moment, and
the same day and seed should still give the same plan."""

FORMING_SECONDS = 0.5
"""From this much time on, the core forms loads for the search to begin from."""

PROOF_SECONDS = 2.0
"""From this much time on, the constraint solver proves closer bounds beside the search."""

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

    def plan(self, seed: int, bounds: BoundsFor, final: BoundsFor | None = None) -> Plan:
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
        outcome = improve(
            decoder,
            best,
            seed=seed,
            effort=int(self.seconds * EFFORT_PER_SECOND),
            least=_least(bounds(best.score[0])),
            stop=stop,
            on_better=tell,
        )
        proven = (final or bounds)(outcome.best.score[0])
        return _written(self.day, self.options, outcome, seed, proven)


def simple_rules(day: Day) -> dict[str, Plan]:
    """The day as each simple rule would have it, by the rule's name."""
    options = options_of(day)
    return {
        name: _written(day, options, Outcome(decoded, 0, name), 0, bounds_of(day, options, decoded.score[0]))
        for name, decoded in _simple(day, Decoder(day, options)).items()
    }


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


def _written(day: Day, options: Options, outcome: Outcome, seed: int, bounds: tuple[Bound, ...]) -> Plan:
    best = outcome.best
    return write_plan(
        day,
        best,
        digest=day_digest(day),
        levels=_levels(best.score, bounds),
        left_out=left_out(day, options, best),
        warnings=options.out_of_service,
        provenance=Provenance(
            planner=PLANNER, seed=seed, iterations=outcome.iterations, stopped_because=outcome.stopped_because
        ),
    )
