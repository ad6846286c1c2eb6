"""The compiled loop: small changes, kept when the schedule gets better and sometimes when it does not.

A change touches at most two rows; only what follows the first changed place is worked out again, and only until the
times agree with the old ones.
"""

from __future__ import annotations

from typing import NamedTuple

import numpy as np

from scheduler.compiled import compiled, compiled_inline
from scheduler.core.arrays import MIX, Arrays
from scheduler.core.changes import (
    merge_loads,
    move_block,
    move_job,
    move_load,
    split_job,
    swap_jobs,
    swap_loads,
    swap_tails,
)
from scheduler.core.edit import (
    CHANGED,
    EDIT_FROM,
    EDIT_LENGTH,
    EDIT_MACHINE,
    EDIT_SHIFT,
    EDIT_SIZE,
    EDIT_TO,
    EMPTIED,
    FIRST_EDIT,
    SPARE_FOR,
    begin,
)
from scheduler.core.rows import (
    BEST_COST,
    COUNT,
    KEPT,
    LOAD,
    LOAD_COLUMNS,
    MOVES,
    NOW_COST,
    Ints,
    State,
    add_job,
    copy_load,
    draw,
    machine_cost,
    row_cost,
    settle,
    settle_row,
    spare,
)


class Best(NamedTuple):
    """The best schedule so far."""

    row: Ints
    length: Ints
    load_of: Ints


@compiled_inline
def change_cost(a: Arrays, s: State) -> int:
    """By how much the schedule's cost would grow."""
    grows = 0
    for slot in range(s.change[CHANGED]):
        at = FIRST_EDIT + slot * EDIT_SIZE
        machine = s.change[at + EDIT_MACHINE]
        length = s.change[at + EDIT_LENGTH]
        cost = 0
        if length > 0:
            cost = row_cost(
                a,
                s,
                machine,
                s.trial[slot],
                length,
                s.change[at + EDIT_FROM],
                s.change[at + EDIT_TO],
                s.change[at + EDIT_SHIFT],
            )
        grows += cost - machine_cost(s, machine)
    return grows


@compiled_inline
def keep_load(a: Arrays, s: State, number: int) -> None:
    """A spare load becomes the load it stands for."""
    load, changed = s.change[SPARE_FOR + number], spare(a, number)
    copy_load(s, changed, load, -1)
    for column in range(COUNT, LOAD_COLUMNS):
        s.load[load, column] = s.load[changed, column]
    for n in range(s.load[load, COUNT]):
        s.load_of[s.jobs[load, n]] = load


@compiled_inline
def keep(a: Arrays, s: State) -> None:
    """Make the change."""
    if s.change[EMPTIED] >= 0:
        s.load[s.change[EMPTIED], COUNT] = 0
    for number in range(2):
        if s.change[SPARE_FOR + number] >= 0:
            keep_load(a, s, number)
    first_spare = spare(a, 0)
    for slot in range(s.change[CHANGED]):
        at = FIRST_EDIT + slot * EDIT_SIZE
        machine = s.change[at + EDIT_MACHINE]
        s.length[machine] = s.change[at + EDIT_LENGTH]
        for place in range(s.change[at + EDIT_FROM], s.length[machine]):
            load = s.trial[slot, place]
            s.row[machine, place, LOAD] = (
                s.change[SPARE_FOR + load - first_spare] if load >= first_spare else load
            )
        settle_row(a, s, machine, s.change[at + EDIT_FROM])


@compiled_inline
def propose(a: Arrays, s: State) -> bool:
    """Some small change; false when it came to nothing."""
    begin(s)
    job = draw(s, s.load_of.shape[0])
    dice = draw(s, 100)
    if dice < a.number[MIX]:
        return move_job(a, s, job)
    if dice < a.number[MIX + 1]:
        return swap_jobs(a, s, job)
    if dice < a.number[MIX + 2]:
        return split_job(a, s, job)
    if dice < a.number[MIX + 3]:
        return merge_loads(a, s, job)
    if dice < a.number[MIX + 4]:
        return swap_loads(a, s, s.load_of[job])
    if dice < a.number[MIX + 5]:
        return swap_tails(a, s, s.load_of[job])
    if dice < a.number[MIX + 6]:
        return move_block(a, s, s.load_of[job])
    return move_load(a, s, s.load_of[job])


@compiled
def remember(s: State, best: Best) -> None:
    """The schedule as it stands is the best so far."""
    for machine in range(s.length.shape[0]):
        best.length[machine] = s.length[machine]
        for place in range(s.length[machine]):
            best.row[machine, place] = s.row[machine, place, LOAD]
    for job in range(s.load_of.shape[0]):
        best.load_of[job] = s.load_of[job]
    s.total[BEST_COST] = s.total[NOW_COST]


@compiled
def recall(a: Arrays, s: State, best: Best) -> None:
    """Go back to the best schedule."""
    for load in range(s.load.shape[0]):
        s.load[load, COUNT] = 0
    for job in range(s.load_of.shape[0]):
        s.load_of[job] = best.load_of[job]
        add_job(s, best.load_of[job], job)
    for machine in range(s.length.shape[0]):
        s.length[machine] = best.length[machine]
        for place in range(s.length[machine]):
            s.row[machine, place, LOAD] = best.row[machine, place]
    settle(a, s)


@compiled
def anneal(a: Arrays, s: State, best: Best, moves: int, warm: float, cool: float) -> None:
    """So many moves while the warmth falls from ``warm`` to ``cool``, by the same factor with each move."""
    warmth = warm
    factor = np.exp(np.log(cool / warm) / max(moves, 1))
    for _ in range(moves):
        warmth *= factor
        s.total[MOVES] += 1
        if not propose(a, s):
            continue
        grows = change_cost(a, s)
        if grows > 0:
            chance = (draw(s, 1 << 30) + 1) / (1 << 30)
            if grows > -np.log(chance) * warmth:
                continue
        keep(a, s)
        s.total[NOW_COST] += grows
        s.total[KEPT] += 1
        if s.total[NOW_COST] < s.total[BEST_COST]:
            remember(s, best)
