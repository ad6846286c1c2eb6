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
from scheduler.rota.rested import able
from scheduler.rota.resting import resting_around
from scheduler.search.bounds import Bound, bounds_of
from scheduler.search.decode import Decoder
from scheduler.search.explain import left_out
from scheduler.search.forming import formed_order
from scheduler.search.improve import EFFORT_PER_SECOND, improve, make_ready, simple_orders
from scheduler.search.options import Options, longest_watch_minutes, options_of
from scheduler.search.placed import Decoded, Score
from scheduler.search.proof import Proof
from scheduler.search.staffed import Staffed, staffed, staffed_below, work_in
from scheduler.search.write import write_plan

PLANNER = "annealed loads and rota 6"
"""Names the way plans are made; it changes when the same question would be answered otherwise."""

LEAST_LIMIT_SECONDS = 5.0
"""A small effort is given this long all the same: a busy machine may take seconds over what is usually a moment, and
the same day and seed should still give the same plan."""

FORMING_SECONDS = 0.5
"""From this much time on, the core forms loads for the search to begin from."""

PROOF_SECONDS = 2.0
"""From this much time on, the constraint solver proves closer bounds beside the search."""

FREE_SHARE, USUAL_SHARE, GAPS_SHARE = 0.4, 0.1, 0.2
"""Shares of the effort: for loads as if nobody had to rest; with rests as usual; with rests in the gaps of that day."""

AGAIN_SHARES = (0.1, 0.1, 0.1)
"""Then again and again with rests in the gaps of the best day so far."""

ROTA_TRIES_PER_SECOND = 5_000
MOST_ROTA_TRIES = 50_000
"""How many changes of the rota are tried for a second of the plan's effort; more than so many gain little."""

DRAWINGS_AT_THE_END = 3.0
"""The rotas at the end take about so many times as long as one that only shows where people could rest."""

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
        self._tries, self._reason = 0, ""
        self._by_heads: tuple[Decoder, Decoded] | None = None
        self._drawing_seconds = 0.0
        ready_at = clock()
        make_ready(self.decoder)
        if seconds >= FORMING_SECONDS:
            solve.make_ready()
        self.begun += clock() - ready_at  # To translate the search, once on a machine, is not to plan.

    def seconds_left(self) -> float:
        """Of the time limit, less what the rota of the best day will take; none after a stop."""
        if self.should_stop is not None and self.should_stop():
            return 0.0
        limit = max(self.seconds, LEAST_LIMIT_SECONDS)
        return self.begun + limit - self.clock() - min(limit / 2, DRAWINGS_AT_THE_END * self._drawing_seconds)

    def plan(self, seed: int, bounds: BoundsFor, final: BoundsFor | None = None) -> Plan:
        """Search, and write down the best day with what is proven about it."""
        self._begin(bounds)
        thorough = self.seconds >= FORMING_SECONDS
        if thorough:
            self._offer(self.decoder, self.decoder.decode(formed_order(self.day, self.options, seed)))
        free = able(self.day)
        if thorough and self.decoder.there != free:
            self._search_together(self.decoder.when(free), seed)
        else:
            self._search(self.decoder, self._best, 1.0, seed)
        return self._written(seed, final or bounds)

    def plan_by_heads(self, seed: int, bounds: BoundsFor) -> Plan:
        """As if nobody had to rest; people are found afterwards, and what nobody can be found for is left out."""
        self.decoder = self.decoder.when(able(self.day))
        self._begin(bounds)
        self._offer(self.decoder, self.decoder.decode(formed_order(self.day, self.options, seed)))
        self._search(self.decoder, self._best, 1.0, seed)
        return self._written(seed, bounds)

    def _begin(self, bounds: BoundsFor) -> None:
        """The best simple rule's day is the first."""
        self._bounds = bounds
        self._at = self.decoder
        self._best = min(_simple(self.day, self.decoder).values(), key=lambda decoded: decoded.score)
        self._tell()

    def _tell(self) -> None:
        if self.on_progress is not None:
            levels = _levels(self._best.score, self._bounds(self._best.score[0]))
            elapsed = self.clock() - self.begun
            self.on_progress(Progress(levels=levels, iterations=self._tries, elapsed_seconds=elapsed))

    def _offer(self, decoder: Decoder, decoded: Decoded) -> None:
        """Take a day whose people are rested if it is better than the best."""
        if decoded.score < self._best.score:
            self._at, self._best = decoder, decoded
            self._tell()

    def _stop(self) -> str | None:
        if self.should_stop is not None and self.should_stop():
            return "asked to stop"
        if self._best.score <= _least(self._bounds(self._best.score[0])):
            return "proven best"
        return "time limit" if self.seconds_left() <= 0 else None

    def _search(
        self, decoder: Decoder, start: Decoded, share: float, seed: int, *, offer: bool = True
    ) -> Decoded:
        """Improve a day with this share of the effort; what is found is offered unless its people are not rested."""
        outcome = improve(
            decoder,
            start,
            seed=seed,
            effort=int(self.seconds * EFFORT_PER_SECOND * share),
            least=_least(self._bounds(self._best.score[0])),
            stop=self._stop,
            on_better=lambda better, _: self._offer(decoder, better) if offer else None,
        )
        self._tries += outcome.iterations
        if outcome.stopped_because == "time limit":
            self._reason = "time limit"
        return outcome.best

    def _search_together(self, free: Decoder, seed: int) -> None:
        """Loads first as if nobody had to rest; then rests where the rota of that day has gaps, or as usual, and the
        loads around them; then again with rests in the gaps of the best day, a few times.
        """
        start = min(
            *_simple(self.day, free).values(),
            free.decode(formed_order(self.day, self.options, seed)),
            key=lambda decoded: decoded.score,
        )
        by_heads = self._search(free, start, FREE_SHARE, seed, offer=False)
        in_gaps = free.when(self._around(free, by_heads, seed))
        for decoder, share in ((self.decoder, USUAL_SHARE), (in_gaps, GAPS_SHARE)):
            first = decoder.decode(by_heads.turns)
            self._offer(decoder, first)
            start = self._best if self._at is decoder and self._best.score < first.score else first
            self._search(decoder, start, share, seed + 1)
        for number, share in enumerate(AGAIN_SHARES):
            again = self._at.when(self._around(self._at, self._best, seed + number))
            first = again.decode(self._best.turns)
            self._offer(again, first)
            self._search(again, first, share, seed + 2 + number)
        self._by_heads = free, by_heads

    def _around(self, decoder: Decoder, decoded: Decoded, seed: int) -> Day:
        """The day with people's rests in the gaps of their rota for a decoded day."""
        begun = self.clock()
        work = work_in(self.day, decoder.there, decoded, tries=self._rota_tries // 2, seed=seed)
        self._drawing_seconds = max(self._drawing_seconds, self.clock() - begun)
        return resting_around(self.day, work, longest_watch_minutes(self.options))

    @property
    def _rota_tries(self) -> int:
        if self.seconds < FORMING_SECONDS:
            return 0
        return min(MOST_ROTA_TRIES, int(self.seconds * ROTA_TRIES_PER_SECOND))

    def _written(self, seed: int, bounds: BoundsFor) -> Plan:
        """The best day with its people; the one planned by heads instead where that comes out better all the same."""
        people = self._staffed(self._at, self._best, seed)
        if self._by_heads is not None:
            free, by_heads = self._by_heads
            people = (
                staffed_below(
                    self.day, free.there, by_heads, people.decoded.score, tries=self._rota_tries, seed=seed
                )
                or people
            )
        is_proven = people.decoded.score <= _least(bounds(people.decoded.score[0]))
        reason = "proven best" if is_proven else self._reason or self._stop() or "effort spent"
        return _written(self.day, self.options, people, _provenance(seed, self._tries, reason), bounds)

    def _staffed(self, decoder: Decoder, decoded: Decoded, seed: int) -> Staffed:
        return staffed(self.day, decoder.there, decoded, tries=self._rota_tries, seed=seed)


def simple_rules(day: Day) -> dict[str, Plan]:
    """The day as each simple rule would have it, by the rule's name."""
    options = options_of(day)
    decoder = Decoder(day, options)
    return {
        name: _written(
            day,
            options,
            staffed(day, decoder.there, decoded, tries=0, seed=0),
            _provenance(0, 0, name),
            _cheap(day, options),
        )
        for name, decoded in _simple(day, decoder).items()
    }


def loads_then_rota(day: Day, *, seconds: float, seed: int, clock: Callable[[], float]) -> Plan:
    """The day as it comes out when loads are planned first, by heads alone, and people are then found for them.

    For comparison: the search is the same, but it does not know that people rest. Loads that nobody can be found for
    are left out.
    """
    run = _Run(day, seconds, clock, None, None)
    return run.plan_by_heads(seed, _cheap(day, run.options))


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


def _provenance(seed: int, iterations: int, stopped_because: str) -> Provenance:
    return Provenance(planner=PLANNER, seed=seed, iterations=iterations, stopped_because=stopped_because)


def _written(day: Day, options: Options, people: Staffed, provenance: Provenance, bounds: BoundsFor) -> Plan:
    best = people.decoded
    return write_plan(
        day,
        best,
        digest=day_digest(day),
        levels=_levels(best.score, bounds(best.score[0])),
        left_out=left_out(day, options, best, people.given_up),
        assignments=people.assignments,
        warnings=options.out_of_service,
        provenance=provenance,
    )
