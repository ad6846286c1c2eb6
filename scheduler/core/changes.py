"""The small changes: jobs that move or swap loads, loads that split, merge, move or swap, rows that swap their tails.

Each prepares changed rows (see ``edit``) and is false when it came to nothing.
"""

from __future__ import annotations

from scheduler.compiled import compiled_inline
from scheduler.core.arrays import JOB_KIN_COUNT, JOB_KIN_FIRST, JOB_MACHINE_COUNT, JOB_SIZE, Arrays
from scheduler.core.edit import (
    EDIT_LENGTH,
    EDIT_SIZE,
    EMPTIED,
    FIRST_EDIT,
    SPARE_FOR,
    cut,
    edit_row,
    put,
    replace,
    slot_of,
    swap_rest,
)
from scheduler.core.rows import (
    COUNT,
    LOAD,
    MACHINE,
    PLACE,
    SIZE,
    State,
    add_job,
    allowed,
    copy_load,
    draw,
    may_run_on,
    measure,
    room_for,
    spare,
)


@compiled_inline
def take_job(a: Arrays, s: State, job: int, number: int) -> None:
    """Take a job out of its load, which becomes the spare ``number`` or, when empty, leaves its row."""
    load = s.load_of[job]
    machine = s.load[load, MACHINE]
    slot = slot_of(s, machine)
    if s.load[load, COUNT] == 1:
        cut(s, slot, s.load[load, PLACE])
        s.change[EMPTIED] = load
        return
    copy_load(s, load, spare(a, number), job)
    measure(a, s, spare(a, number), machine)
    s.change[SPARE_FOR + number] = load
    replace(s, slot, s.load[load, PLACE], spare(a, number))


@compiled_inline
def give_job(a: Arrays, s: State, job: int, load: int) -> bool:
    """A job into another load, which becomes spare 1."""
    machine = s.load[load, MACHINE]
    copy_load(s, load, spare(a, 1), -1)
    add_job(s, spare(a, 1), job)
    if not allowed(a, s, spare(a, 1), machine):
        return False
    s.change[SPARE_FOR + 1] = load
    replace(s, slot_of(s, machine), s.load[load, PLACE], spare(a, 1))
    return True


@compiled_inline
def move_job(a: Arrays, s: State, job: int) -> bool:
    """A job into another load of its family."""
    other = a.kin[a.job[job, JOB_KIN_FIRST] + draw(s, a.job[job, JOB_KIN_COUNT])]
    source, target = s.load_of[job], s.load_of[other]
    if source == target or s.load[target, SIZE] + a.job[job, JOB_SIZE] > room_for(a, s, target):
        return False
    if not give_job(a, s, job, target):
        return False
    if s.load[source, COUNT] == 1:
        # The place of the target may have moved up; cut after it was replaced keeps both right.
        slot = slot_of(s, s.load[source, MACHINE])
        cut(s, slot, s.load[source, PLACE])
        s.change[EMPTIED] = source
        return True
    take_job(a, s, job, 0)
    return True


@compiled_inline
def swap_jobs(a: Arrays, s: State, job: int) -> bool:
    """Two jobs of a family change loads."""
    other = a.kin[a.job[job, JOB_KIN_FIRST] + draw(s, a.job[job, JOB_KIN_COUNT])]
    one, two = s.load_of[job], s.load_of[other]
    if one == two:
        return False
    if s.load[one, SIZE] - a.job[job, JOB_SIZE] + a.job[other, JOB_SIZE] > room_for(a, s, one):
        return False
    if s.load[two, SIZE] - a.job[other, JOB_SIZE] + a.job[job, JOB_SIZE] > room_for(a, s, two):
        return False
    x, y = spare(a, 0), spare(a, 1)
    copy_load(s, one, x, job)
    add_job(s, x, other)
    copy_load(s, two, y, other)
    add_job(s, y, job)
    if not allowed(a, s, x, s.load[one, MACHINE]) or not allowed(a, s, y, s.load[two, MACHINE]):
        return False
    s.change[SPARE_FOR] = one
    s.change[SPARE_FOR + 1] = two
    replace(s, slot_of(s, s.load[one, MACHINE]), s.load[one, PLACE], x)
    replace(s, slot_of(s, s.load[two, MACHINE]), s.load[two, PLACE], y)
    return True


@compiled_inline
def split_job(a: Arrays, s: State, job: int) -> bool:
    """A job into a new load of its own, somewhere it may run."""
    source = s.load_of[job]
    if s.load[source, COUNT] == 1:
        return False
    machine = a.machines_of[job, draw(s, a.job[job, JOB_MACHINE_COUNT])]
    s.load[spare(a, 1), COUNT] = 0
    add_job(s, spare(a, 1), job)
    if not allowed(a, s, spare(a, 1), machine):
        return False
    take_job(a, s, job, 0)
    slot = slot_of(s, machine)
    put(s, slot, draw(s, s.change[FIRST_EDIT + slot * EDIT_SIZE + EDIT_LENGTH] + 1), spare(a, 1))
    free = 0
    while s.load[free, COUNT] > 0:
        free += 1
    s.change[SPARE_FOR + 1] = free
    return True


@compiled_inline
def near(s: State, place: int, length: int) -> int:
    """A place not far from this one, or now and then anywhere."""
    if draw(s, 3) == 0:
        return draw(s, length)
    return min(max(place + draw(s, 7) - 3, 0), length - 1)


@compiled_inline
def move_load(a: Arrays, s: State, load: int) -> bool:
    """A load to another place in its row, or into another row."""
    source = s.load[load, MACHINE]
    machine = source
    if draw(s, 2) == 0:
        job = s.jobs[load, 0]
        machine = a.machines_of[job, draw(s, a.job[job, JOB_MACHINE_COUNT])]
    if machine == source:
        to = near(s, s.load[load, PLACE], s.length[source])
        if to == s.load[load, PLACE]:
            return False
        slot = slot_of(s, source)
        cut(s, slot, s.load[load, PLACE])
        put(s, slot, to, load)
        return True
    copy_load(s, load, spare(a, 0), -1)
    if not allowed(a, s, spare(a, 0), machine):
        return False
    s.change[SPARE_FOR] = load
    cut(s, slot_of(s, source), s.load[load, PLACE])
    slot = slot_of(s, machine)
    put(s, slot, draw(s, s.length[machine] + 1), spare(a, 0))
    return True


@compiled_inline
def swap_loads(a: Arrays, s: State, load: int) -> bool:
    """Two loads change places."""
    if draw(s, 2) == 0:
        machine = s.load[load, MACHINE]
        other = s.row[machine, near(s, s.load[load, PLACE], s.length[machine]), LOAD]
    else:
        other = s.load_of[draw(s, s.load_of.shape[0])]
    one, two = s.load[load, MACHINE], s.load[other, MACHINE]
    if load == other:
        return False
    if one == two:
        slot = slot_of(s, one)
        replace(s, slot, s.load[load, PLACE], other)
        replace(s, slot, s.load[other, PLACE], load)
        return True
    x, y = spare(a, 0), spare(a, 1)
    copy_load(s, load, x, -1)
    copy_load(s, other, y, -1)
    if not allowed(a, s, x, two) or not allowed(a, s, y, one):
        return False
    s.change[SPARE_FOR] = load
    s.change[SPARE_FOR + 1] = other
    replace(s, slot_of(s, one), s.load[load, PLACE], y)
    replace(s, slot_of(s, two), s.load[other, PLACE], x)
    return True


@compiled_inline
def merge_loads(a: Arrays, s: State, job: int) -> bool:
    """All of a load into another of its family."""
    other = a.kin[a.job[job, JOB_KIN_FIRST] + draw(s, a.job[job, JOB_KIN_COUNT])]
    source, target = s.load_of[job], s.load_of[other]
    machine = s.load[target, MACHINE]
    if source == target or s.load[target, SIZE] + s.load[source, SIZE] > room_for(a, s, target):
        return False
    copy_load(s, target, spare(a, 1), -1)
    for n in range(s.load[source, COUNT]):
        add_job(s, spare(a, 1), s.jobs[source, n])
    if not allowed(a, s, spare(a, 1), machine):
        return False
    s.change[SPARE_FOR + 1] = target
    replace(s, slot_of(s, machine), s.load[target, PLACE], spare(a, 1))
    cut(s, slot_of(s, s.load[source, MACHINE]), s.load[source, PLACE])
    s.change[EMPTIED] = source
    return True


@compiled_inline
def swap_tails(a: Arrays, s: State, load: int) -> bool:
    """Two rows change what follows a place."""
    one = s.load[load, MACHINE]
    other = s.load_of[draw(s, s.load_of.shape[0])]
    two = s.load[other, MACHINE]
    if one == two:
        return False
    first, second = s.load[load, PLACE], s.load[other, PLACE]
    for place in range(first, s.length[one]):
        if not may_run_on(a, s, s.row[one, place, LOAD], two):
            return False
    for place in range(second, s.length[two]):
        if not may_run_on(a, s, s.row[two, place, LOAD], one):
            return False
    edit_row(s, 0, one)
    edit_row(s, 1, two)
    swap_rest(s, 0, first, two, second)
    swap_rest(s, 1, second, one, first)
    return True


@compiled_inline
def move_block(a: Arrays, s: State, load: int) -> bool:
    """A few loads that follow one another, to another place together."""
    source, first = s.load[load, MACHINE], s.load[load, PLACE]
    count = min(2 + draw(s, 5), s.length[source] - first)
    machine = source
    if draw(s, 2) == 0:
        machine = draw(s, s.length.shape[0])
    if machine != source:
        for place in range(first, first + count):
            if not may_run_on(a, s, s.row[source, place, LOAD], machine):
                return False
    slot = slot_of(s, source)
    for _ in range(count):
        cut(s, slot, first)
    slot = slot_of(s, machine)
    to = draw(s, s.change[FIRST_EDIT + slot * EDIT_SIZE + EDIT_LENGTH] + 1)
    for n in range(count):
        put(s, slot, to + n, s.row[source, first + n, LOAD])
    return True
