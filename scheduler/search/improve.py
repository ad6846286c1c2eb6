"""Better orders by annealing: small changes, kept when the day gets better, sometimes when it does not."""

from __future__ import annotations

import math
from collections.abc import Callable, Sequence
from dataclasses import dataclass
from random import Random

from scheduler.problem import Day
from scheduler.search.decode import Decoded, Decoder, Gene, Score

EFFORT_PER_SECOND = 5000
"""Places looked at in a nominal second.

Below what a small computer does, so that the effort, which is the same everywhere, ends a search before the
clock does, and the same question and seed give the same plan.
"""

# How the levels weigh while searching; the best day is always kept level by level. A jar left out outweighs a
# day's lateness of a batch, an hour on the last jar six minutes of lateness.
_WEIGHTS = (2000.0, 1.0, 0.1, 0.01, 0.05, 0.01)


# The warmth to begin with, in minutes of lateness: a little, and a share of what there is to improve. Tried on made-up
# days of 20 batches with (1, 0.005), (5, 0.03), (15, 0.03) and (10, 0.06): the second was best on all of them.
_WARMTH = (5.0, 0.03)


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

    Never returns a day that is worse than ``start``. The same seed and effort give the same day.
    """
    random = Random(seed)  # noqa: S311 - a search needs repeatable numbers, not secret ones.
    current, genes = start, _genes(start)
    best = start
    hot = _WARMTH[0] + _WARMTH[1] * (_energy(start.score) - _WEIGHTS[0] * start.score[0])
    first, tries, reason = decoder.effort, 0, "nothing to change"
    while genes:
        spent = (decoder.effort - first) / max(effort, 1)
        reason = "proven best" if best.score <= least else "effort spent" if spent >= 1 else stop() or ""
        if reason:
            break
        tries += 1
        candidate_genes = _change(random, decoder, genes, current)
        candidate = decoder.decode(candidate_genes)
        worse_by = _energy(candidate.score) - _energy(current.score)
        warmth = hot * (1 - spent) ** 3 + 0.05
        if worse_by <= 0 or random.random() < math.exp(-worse_by / warmth):
            current, genes = candidate, candidate_genes
        if candidate.score < best.score:
            best = candidate
            on_better(best, tries)
    return Outcome(best, tries, reason)


def _energy(score: Score) -> float:
    return sum(weight * value for weight, value in zip(_WEIGHTS, score, strict=True))


def _genes(day: Decoded) -> list[Gene]:
    """The turns that make this day again, then one for each batch with jars that found no place."""
    return day.turns + [(batch, None) for batch, jars in enumerate(day.left) if jars]


def _change(random: Random, decoder: Decoder, genes: list[Gene], day: Decoded) -> list[Gene]:
    """One or two small changes; half of them give a batch that is late or left out an earlier turn."""
    changed = genes.copy()
    hurt = [place for place, (batch, _) in enumerate(genes) if day.late[batch] or day.left[batch]]
    for _ in range(1 + (random.random() < 0.3)):
        if hurt and random.random() < 0.5:
            here = min(random.choice(hurt), len(changed) - 1)
            changed.insert(random.randrange(here + 1), changed.pop(here))
        else:
            _CHANGES[random.randrange(len(_CHANGES))](random, decoder, changed)
    return changed


def _move(random: Random, _: Decoder, genes: list[Gene]) -> None:
    genes.insert(random.randrange(len(genes)), genes.pop(random.randrange(len(genes))))


def _swap(random: Random, _: Decoder, genes: list[Gene]) -> None:
    here, there = random.randrange(len(genes)), random.randrange(len(genes))
    genes[here], genes[there] = genes[there], genes[here]


def _other_canner(random: Random, decoder: Decoder, genes: list[Gene]) -> None:
    here = random.randrange(len(genes))
    batch = genes[here][0]
    canners = sorted({option.canner for option in decoder.options.by_batch[batch]})
    genes[here] = (batch, random.choice([None, *canners]))


def _together(random: Random, _: Decoder, genes: list[Gene]) -> None:
    """All turns of one batch, one behind the other."""
    batch = random.choice(genes)[0]
    own = [gene for gene in genes if gene[0] == batch]
    rest = [gene for gene in genes if gene[0] != batch]
    at = random.randrange(len(rest) + 1)
    genes[:] = rest[:at] + own + rest[at:]


_CHANGES = (_move, _swap, _other_canner, _other_canner, _together)
