"""Small changes of an order, compiled.

A gene is a batch and a canner, NONE for any. Half of the changes help a batch that is hurt: late, left out, or the
one that is out last.
"""

from __future__ import annotations

from scheduler.chance import below, share
from scheduler.compiled import compiled_part
from scheduler.search.layout import CANNER, END, FIRST, LAST_OUT, LATE, LEFT, NONE, Facts, Numbers

# How often a second change is made at once, and how often a change helps a batch that is hurt.
_TWICE = 0.3
_HELP = 0.5
# How often a gene stays near its place; near is an eighth of the order.
_NEAR = 0.5
_NEARNESS = 8
# The longest row of genes that is moved as one.
_LONGEST_ROW = 6


@compiled_part
def change(facts: Facts, genes: Numbers, count: int, of_batch: Numbers, last: int, state: Numbers) -> None:
    """Change the first ``count`` genes in place. ``of_batch`` and ``last`` tell who is hurt by the order so far."""
    for again in range(2):
        if again and share(state) >= _TWICE:
            return
        if share(state) < _HELP:
            _help(facts, genes, count, of_batch, last, state)
        else:
            _any_change(facts, genes, count, state)


@compiled_part
def _any_change(facts: Facts, genes: Numbers, count: int, state: Numbers) -> None:
    here = below(state, count)
    kind = below(state, 6)
    if kind == 0:
        _move(genes, here, _somewhere(here, count, state))
    elif kind == 1:
        _swap(genes, here, _somewhere(here, count, state))
    elif kind <= 3:
        genes[here, 1] = _canner(facts, genes[here, 0], state)
    elif kind == 4:
        _gather(genes, here, count)
    else:
        length = min(count - here, 2 + below(state, _LONGEST_ROW - 1))
        to = below(state, count - length + 1)
        for step in range(length):
            if to < here:
                _move(genes, here + step, to + step)
            else:
                _move(genes, here, to + length - 1)


@compiled_part
def _help(facts: Facts, genes: Numbers, count: int, of_batch: Numbers, last: int, state: Numbers) -> None:
    """Give a hurt batch an earlier turn, or another canner; any other change when none is hurt."""
    chosen = NONE
    seen = 0
    for place in range(count):
        batch = genes[place, 0]
        if of_batch[LATE, batch] or of_batch[LEFT, batch] or of_batch[LAST_OUT, batch] == last:
            seen += 1
            if below(state, seen) == 0:
                chosen = place
    if chosen == NONE:
        _any_change(facts, genes, count, state)
    elif share(state) < 0.25:
        genes[chosen, 1] = _canner(facts, genes[chosen, 0], state)
    else:
        reach = chosen + 1 if share(state) < 0.5 else min(chosen + 1, 2 + count // _NEARNESS)
        _move(genes, chosen, chosen - below(state, reach))


@compiled_part
def _somewhere(here: int, count: int, state: Numbers) -> int:
    if share(state) >= _NEAR:
        return below(state, count)
    reach = 2 + count // _NEARNESS
    least = max(0, here - reach)
    return least + below(state, min(count, here + reach) - least)


@compiled_part
def _canner(facts: Facts, batch: int, state: Numbers) -> int:
    """A canner that can take the batch, or any."""
    first = facts.batches[batch, FIRST]
    options = facts.batches[batch, END] - first
    if options == 0 or below(state, 3) == 0:
        return NONE
    canner: int = facts.options[first + below(state, options), CANNER]
    return canner


@compiled_part
def _move(genes: Numbers, here: int, to: int) -> None:
    batch, canner = genes[here, 0], genes[here, 1]
    step = 1 if to > here else -1
    for place in range(here, to, step):
        genes[place, 0] = genes[place + step, 0]
        genes[place, 1] = genes[place + step, 1]
    genes[to, 0] = batch
    genes[to, 1] = canner


@compiled_part
def _swap(genes: Numbers, here: int, there: int) -> None:
    for column in range(2):
        genes[here, column], genes[there, column] = genes[there, column], genes[here, column]


@compiled_part
def _gather(genes: Numbers, here: int, count: int) -> None:
    """All turns of one batch right behind this one."""
    batch = genes[here, 0]
    to = here + 1
    for place in range(here + 1, count):
        if genes[place, 0] == batch:
            _move(genes, place, to)
            to += 1
