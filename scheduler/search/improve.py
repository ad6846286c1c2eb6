"""Better orders by annealing: small changes, kept when the day gets better, sometimes when it does not."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass

import numpy as np

from scheduler.problem import Day
from scheduler.search import anneal
from scheduler.search.decode import Decoder, genes_array
from scheduler.search.placed import Decoded, Gene, Score

EFFORT_PER_SECOND = 200_000
"""Places looked at in a nominal second.

Below what a small computer does, so that the effort, which is the same everywhere, ends a search before the
clock does, and the same question and seed give the same plan.
"""

# The effort between two looks at the clock and at the bounds, in nominal seconds.
_LOOK_EVERY_SECONDS = 0.1

# How the levels weigh while searching; the best day is always kept level by level. A jar left out outweighs a
# day's lateness of a batch, an hour on the last jar six minutes of lateness.
_WEIGHTS = np.array((2000.0, 1.0, 0.1, 0.01, 0.05, 0.01))


# Once little lateness is left to win, the last hour weighs more than it does at first.
_LATER_WEIGHTS = np.array((2000.0, 4.0, 1.0, 0.02, 0.1, 0.02))

# Each phase begins from the best day: its weights, the warmth to begin with in minutes of lateness, and the share of
# the effort at which it ends. Warmth that grew with the lateness was tried on made-up days and worse; where
# the clock cuts a search short, it also left the day as good as unimproved.
_PHASES = ((_WEIGHTS, 5.0, 0.65), (_LATER_WEIGHTS, 10.0, 1.0))


@dataclass(frozen=True, slots=True)
class Outcome:
    """The best day found, the tries it took and why the search ended."""

    best: Decoded
    iterations: int
    stopped_because: str


def simple_orders(day: Day, longest: Sequence[int]) -> dict[str, list[Gene]]:
    """The orders a whiteboard would use: batch after batch, each wherever it is out first.

    ``longest`` are the process minutes of each batch's shortest line.
    """
    numbers = range(len(day.batches))
    keys: dict[str, Callable[[int], tuple[int, ...]]] = {
        "first come": lambda n: (day.batches[n].arrival, n),
        "earliest due": lambda n: (day.batches[n].pickup, n),
        "longest process first": lambda n: (-longest[n], n),
    }
    return {name: [(n, None) for n in sorted(numbers, key=key)] for name, key in keys.items()}


def make_ready(decoder: Decoder) -> None:
    """Translate the compiled search, or fetch it where it is kept, so that planning does not wait for it."""
    search = anneal.new_search(genes_array([]), decoder.fresh, 0)
    anneal.begin(decoder.facts, decoder.fresh, decoder.floor, search)
    anneal.anneal(decoder.facts, decoder.fresh, decoder.floor, search, _WEIGHTS, 1.0, (0, 0, 0))


def improve(
    decoder: Decoder,
    start: Decoded,
    *,
    seed: int,
    effort: int,
    least: Score,
    stop: Callable[[], str | None],
    on_better: Callable[[Decoded, int], None],
) -> Outcome:
    """Anneal from ``start`` until the effort is spent, the score reaches ``least`` or ``stop`` gives a
    reason.

    Never returns a day that is worse than ``start``. The same seed and effort give the same day. ``stop`` and the
    bounds are asked, and ``on_better`` told, ten times in a nominal second.
    """
    best, tries, reason = start, 0, stop() or ""
    first = decoder.effort
    if best.score <= least:
        reason = "proven best"
    for weights, hot, until in _PHASES:
        order = genes_array([*best.turns, *((batch, None) for batch, jars in enumerate(best.left) if jars)])
        if not len(order):
            reason = "nothing to change"
        if reason:
            break
        search = anneal.new_search(order, decoder.fresh, seed)
        anneal.begin(decoder.facts, decoder.fresh, decoder.floor, search)
        begun, end, told = decoder.effort, first + int(until * effort), 0
        while not reason and decoder.effort < end:
            look = min(end, decoder.effort + int(_LOOK_EVERY_SECONDS * EFFORT_PER_SECOND))
            anneal.anneal(
                decoder.facts, decoder.fresh, decoder.floor, search, weights, hot, (begun, look, end)
            )
            if search.tally[anneal.BETTER] > told:
                told = int(search.tally[anneal.BETTER])
                best = decoder.remake(search.orders[anneal.BEST], int(search.lengths[anneal.BEST]))
                on_better(best, tries + int(search.tally[anneal.TRIES]))
            reason = "proven best" if best.score <= least else stop() or ""
        tries += int(search.tally[anneal.TRIES])
    return Outcome(best, tries, reason or "effort spent")
