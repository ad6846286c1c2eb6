"""A whole day from an order, compiled."""

from __future__ import annotations

from scheduler.compiled import compiled, compiled_part
from scheduler.search.layout import (
    FAMILY,
    JARS,
    LAST_OUT,
    LATE,
    LEFT,
    LOADS,
    MINUTES,
    NONE,
    OF_BATCH,
    OF_LOAD,
    OPTION,
    PICKUP,
    PIECES,
    START,
    TRIED,
    Facts,
    Floor,
    Numbers,
)
from scheduler.search.place import place


@compiled_part
def clear(floor: Floor, fresh: Floor) -> None:
    """The untouched day again; the effort is kept."""
    _copy(floor.taken, fresh.taken)
    _copy(floor.spare, fresh.spare)
    for table in range(fresh.use_counts.shape[0]):
        floor.use_counts[table] = fresh.use_counts[table]
    for canner in range(fresh.canner_counts.shape[0]):
        floor.canner_counts[canner] = 0
    floor.counts[LOADS] = 0
    floor.counts[PIECES] = 0


@compiled_part
def _copy(into: Numbers, source: Numbers) -> None:
    for row in range(source.shape[0]):
        for column in range(source.shape[1]):
            into[row, column] = source[row, column]


@compiled
def make_day(facts: Facts, fresh: Floor, floor: Floor, genes: Numbers, count: int) -> None:
    """The day that the first ``count`` genes make, and its score.

    Jars whose turns are over are placed at the end, batch by batch in the order of their first turns.
    """
    clear(floor, fresh)
    most = floor.pieces.shape[0]
    left = floor.of_batch[LEFT]
    for batch in range(facts.batches.shape[0]):
        left[batch] = facts.batches[batch, JARS]
        floor.of_batch[TRIED, batch] = 0
    for turn in range(count):
        batch = genes[turn, 0]
        if left[batch] > 0 and floor.counts[PIECES] < most:
            left[batch] -= place(facts, floor, batch, genes[turn, 1], left[batch], turn)
    for turn in range(count):
        batch = genes[turn, 0]
        while left[batch] > 0 and floor.counts[PIECES] < most and not floor.of_batch[TRIED, batch]:
            placed = place(facts, floor, batch, NONE, left[batch], NONE)
            left[batch] -= placed
            floor.of_batch[TRIED, batch] = placed == 0
    _score(facts, floor)


@compiled_part
def _score(facts: Facts, floor: Floor) -> None:
    """The levels in order: jars left out, lateness, last jar out, canner time, loads, changeovers."""
    score = floor.score
    for level in range(score.shape[0]):
        score[level] = 0
    last_out = floor.of_batch[LAST_OUT]
    for batch in range(last_out.shape[0]):
        last_out[batch] = 0
    for piece in range(floor.counts[PIECES]):
        load = floor.pieces[piece, OF_LOAD]
        batch = floor.pieces[piece, OF_BATCH]
        out = floor.loads[load, START] + facts.options[floor.loads[load, OPTION], MINUTES]
        last_out[batch] = max(last_out[batch], out)
        score[2] = max(score[2], out)
    for batch in range(facts.batches.shape[0]):
        late = max(0, last_out[batch] - facts.batches[batch, PICKUP])
        floor.of_batch[LATE, batch] = late
        score[0] += floor.of_batch[LEFT, batch]
        score[1] += late
    for load in range(floor.counts[LOADS]):
        score[3] += facts.options[floor.loads[load, OPTION], MINUTES]
    score[4] = floor.counts[LOADS]
    score[5] = _changeovers(facts, floor)


@compiled_part
def _changeovers(facts: Facts, floor: Floor) -> int:
    """How often a canner's next load is of another family. The loads of each canner are put in order of time."""
    changes = 0
    for canner in range(floor.on_canner.shape[0]):
        row = floor.on_canner[canner]
        for place_in_row in range(1, floor.canner_counts[canner]):
            load = row[place_in_row]
            at = place_in_row
            while at > 0 and floor.loads[row[at - 1], START] > floor.loads[load, START]:
                row[at] = row[at - 1]
                at -= 1
            row[at] = load
        for place_in_row in range(1, floor.canner_counts[canner]):
            before = facts.options[floor.loads[row[place_in_row - 1], OPTION], FAMILY]
            changes += before != facts.options[floor.loads[row[place_in_row], OPTION], FAMILY]
    return changes
