"""A schedule as rows of loads, one for each machine, each load started as early as it can; and what a row costs.

Loads are numbered; two spare numbers hold a changed load while it is tried. All numbers are whole, so that a seed and a
number of moves give the same schedule on every machine.
"""

from __future__ import annotations

from typing import NamedTuple

import numpy as np
from numpy.typing import NDArray

from scheduler.compiled import compiled, compiled_inline
from scheduler.core.arrays import (
    CAPACITY,
    HORIZON,
    INITIAL,
    JOB_DUE,
    JOB_FAMILY,
    JOB_MOST_MINUTES,
    JOB_RELEASE,
    JOB_SIZE,
    LATE_WEIGHT,
    RUN_WEIGHT,
    TARDY_WEIGHT,
    WINDOWS,
    Arrays,
)

Ints = NDArray[np.int64]

NOT_PLACED = 10**13
"""What a load costs that fits into no window: more than any schedule's other costs together."""

LATEST = 1 << 40
_MULTIPLIER = np.uint64(2685821657736338717)
# Columns of State.total.
NOW_COST, BEST_COST, MOVES, KEPT = range(4)
# Columns of State.row and State.load.
LOAD, END, COST, WINDOW = range(4)
MACHINE, PLACE, COUNT, FAMILY, SIZE, MINUTES, MOST, RELEASE, FIRST_DUE, LAST_DUE = range(10)
LOAD_COLUMNS = 10


class State(NamedTuple):
    """A schedule and the change being tried. Few arrays: each costs the compiled loop something at every call."""

    row: Ints  # [machine, place, column] the load, when it ends, the row's cost so far, the window it lies in
    length: Ints  # [machine]
    load: Ints  # [load, column]
    jobs: Ints  # [load, n]
    load_of: Ints  # [job]
    trial: Ints  # [2, place] the changed rows
    change: Ints  # see above
    random: NDArray[np.uint64]
    total: Ints  # see above


@compiled_inline
def draw(state: State, below: int) -> int:
    """A whole number from 0 to ``below`` - 1 (xorshift64*, Vigna 2016)."""
    x = state.random[0]
    x ^= x >> np.uint64(12)
    x ^= x << np.uint64(25)
    x ^= x >> np.uint64(27)
    state.random[0] = x
    high = (x * _MULTIPLIER) >> np.uint64(32)
    return int(np.int64((high * np.uint64(below)) >> np.uint64(32)))


@compiled_inline
def spare(a: Arrays, number: int) -> int:
    """A spare load number."""
    return int(a.job.shape[0]) + number


@compiled_inline
def measure(a: Arrays, s: State, load: int, machine: int) -> None:
    """Work out what a load is from its jobs."""
    size = minutes = release = last_due = 0
    most = first_due = LATEST
    for n in range(s.load[load, COUNT]):
        job = s.jobs[load, n]
        size += a.job[job, JOB_SIZE]
        minutes = max(minutes, a.minutes[job, machine])
        most = min(most, a.job[job, JOB_MOST_MINUTES])
        release = max(release, a.job[job, JOB_RELEASE])
        first_due = min(first_due, a.job[job, JOB_DUE])
        last_due = max(last_due, a.job[job, JOB_DUE])
    s.load[load, FAMILY] = a.job[s.jobs[load, 0], JOB_FAMILY]
    s.load[load, SIZE] = size
    s.load[load, MINUTES] = minutes
    s.load[load, MOST] = most
    s.load[load, RELEASE] = release
    s.load[load, FIRST_DUE] = first_due
    s.load[load, LAST_DUE] = last_due


@compiled_inline
def lateness_cost(a: Arrays, s: State, load: int, end: int) -> int:
    """What it costs that the load ends then."""
    if end <= s.load[load, FIRST_DUE]:
        return 0
    if end > s.load[load, LAST_DUE] and a.number[TARDY_WEIGHT] == 0:
        return int(a.number[LATE_WEIGHT] * s.load[load, COUNT])
    cost = 0
    for n in range(s.load[load, COUNT]):
        due = a.job[s.jobs[load, n], JOB_DUE]
        if end > due:
            cost += a.number[LATE_WEIGHT] + a.number[TARDY_WEIGHT] * (end - due)
    return int(cost)


@compiled_inline
def start_in(
    a: Arrays, machine: int, window: int, after: int, release: int, setup: int, minutes: int
) -> tuple[int, int]:
    """The window and the earliest start of a load whose set-up begins at or after ``after``; window -1: none."""
    for w in range(window, a.machine[machine, WINDOWS]):
        start = max(max(after, a.window[machine, w, 0]) + setup, release)
        if start + minutes <= a.window[machine, w, 1]:
            return w, start
    return -1, max(after + setup, release, a.number[HORIZON])


@compiled_inline
def step(
    a: Arrays, s: State, machine: int, load: int, family: int, end: int, window: int
) -> tuple[int, int, int, bool]:
    """A load run after one of ``family`` that ended at ``end``: when it ends, its cost, its window, if it has one."""
    mine, minutes = s.load[load, FAMILY], s.load[load, MINUTES]
    w, start = start_in(a, machine, window, end, s.load[load, RELEASE], a.setup[family, mine, 0], minutes)
    end = start + minutes
    cost = a.number[RUN_WEIGHT] * minutes + a.setup[family, mine, 1] + lateness_cost(a, s, load, end)
    if w < 0:
        return end, cost + NOT_PLACED, window, False
    return end, cost, w, True


@compiled_inline
def before(a: Arrays, s: State, machine: int, place: int) -> tuple[int, int, int, int]:
    """Family, end, cost and window of what comes before a place in a row."""
    if place == 0:
        return a.machine[machine, INITIAL], 0, 0, 0
    row = s.row[machine, place - 1]
    return s.load[row[LOAD], FAMILY], row[END], row[COST], row[WINDOW]


@compiled_inline
def row_cost(
    a: Arrays, s: State, machine: int, row: Ints, length: int, first: int, last: int, shift: int
) -> int:
    """The cost of a changed row. Behind ``last`` it is the old row ``shift`` places earlier."""
    family, end, cost, window = before(a, s, machine, first)
    for place in range(first, length):
        load = row[place]
        end, more, window, placed = step(a, s, machine, load, family, end, window)
        cost += more
        family = s.load[load, FAMILY]
        if place > last and placed and end == s.row[machine, place - shift, END]:
            return int(cost + machine_cost(s, machine) - s.row[machine, place - shift, COST])
    return int(cost)


@compiled_inline
def settle_row(a: Arrays, s: State, machine: int, first: int) -> None:
    """Work out a row from ``first`` on and keep it."""
    family, end, cost, window = before(a, s, machine, first)
    for place in range(first, s.length[machine]):
        load = s.row[machine, place, LOAD]
        end, more, window, _ = step(a, s, machine, load, family, end, window)
        cost += more
        family = s.load[load, FAMILY]
        s.row[machine, place, END] = end
        s.row[machine, place, COST] = cost
        s.row[machine, place, WINDOW] = window
        s.load[load, MACHINE] = machine
        s.load[load, PLACE] = place


@compiled_inline
def machine_cost(s: State, machine: int) -> int:
    """The cost of a row as it stands."""
    return int(s.row[machine, s.length[machine] - 1, COST]) if s.length[machine] > 0 else 0


@compiled
def settle(a: Arrays, s: State) -> None:
    """Work the whole schedule out from its rows and its loads' jobs."""
    s.total[NOW_COST] = 0
    for machine in range(s.length.shape[0]):
        for place in range(s.length[machine]):
            measure(a, s, s.row[machine, place, LOAD], machine)
        settle_row(a, s, machine, 0)
        s.total[NOW_COST] += machine_cost(s, machine)


@compiled_inline
def add_job(s: State, load: int, job: int) -> None:
    """One more job in a load."""
    s.jobs[load, s.load[load, COUNT]] = job
    s.load[load, COUNT] += 1


@compiled_inline
def copy_load(s: State, source: int, target: int, without: int) -> None:
    """The jobs of ``source`` but one."""
    count = 0
    for n in range(s.load[source, COUNT]):
        if s.jobs[source, n] != without:
            s.jobs[target, count] = s.jobs[source, n]
            count += 1
    s.load[target, COUNT] = count


@compiled_inline
def room_for(a: Arrays, s: State, load: int) -> int:
    """What the machine of a load holds of its family."""
    return int(a.machine[s.load[load, MACHINE], CAPACITY + s.load[load, FAMILY]])


@compiled_inline
def allowed(a: Arrays, s: State, load: int, machine: int) -> bool:
    """Measure a load for a machine; false when it may not run there."""
    for n in range(s.load[load, COUNT]):
        if a.minutes[s.jobs[load, n], machine] < 0:
            return False
    measure(a, s, load, machine)
    room = a.machine[machine, CAPACITY + s.load[load, FAMILY]]
    return bool(s.load[load, SIZE] <= room and s.load[load, MINUTES] <= s.load[load, MOST])


@compiled_inline
def may_run_on(a: Arrays, s: State, load: int, machine: int) -> bool:
    """True when the load may run unchanged on another machine and takes as long there."""
    minutes = 0
    for n in range(s.load[load, COUNT]):
        job = s.jobs[load, n]
        if a.minutes[job, machine] < 0:
            return False
        minutes = max(minutes, a.minutes[job, machine])
    room = a.machine[machine, CAPACITY + s.load[load, FAMILY]]
    return bool(minutes == s.load[load, MINUTES] and s.load[load, SIZE] <= room)
