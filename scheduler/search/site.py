"""When and where a load could be: its canner, hands, watcher, kettle and table, all free at once."""

from __future__ import annotations

from scheduler.compiled import compiled_inline
from scheduler.search.hands import has_room, watch_from
from scheduler.search.layout import (
    ARRIVAL,
    AT_CLEANING,
    AT_COOLING,
    AT_FILL,
    AT_KETTLE,
    AT_PREP,
    BATCH,
    BURNER,
    CANNER,
    CLEANING,
    COOK,
    FILL,
    HANDS_ROWS,
    HEAT_ON,
    HORIZON,
    JAR_AREA,
    KETTLE_ROW,
    KETTLES,
    MEAT,
    MINUTES,
    NONE,
    PREP_HANDS,
    PREP_ROW,
    STAND,
    UNLOADING,
    USE_TO,
    WATCH,
    Facts,
    Floor,
)
from scheduler.search.taken import last_taken


@compiled_inline
def prep_from(facts: Facts, floor: Floor, batch: int, jars: int) -> int:
    """When prep for so many jars can begin first; the arrival when nothing is left to prepare; else NONE."""
    start: int = facts.batches[batch, ARRIVAL]
    minutes: int = facts.prep[facts.batches[batch, PREP_ROW] + jars]
    if minutes == 0:
        return start
    if facts.rules[PREP_HANDS] == 0:
        return NONE
    while start + minutes <= facts.rules[HORIZON]:
        last = last_taken(floor.taken, AT_PREP, start, start + minutes)
        if last == NONE:
            return start
        start = last + 1
    return NONE


@compiled_inline
def kettle_at(facts: Facts, floor: Floor, option: int, batch: int, jars: int, start: int) -> tuple[int, int]:
    """The first kettle free for a fill that begins at ``start``, and that start; with none, NONE and when to look
    again, or NONE twice when no kettle will do.
    """
    cook = facts.batches[batch, COOK]
    again = NONE
    end = start + facts.options[option, FILL]
    for kettle in range(facts.rules[KETTLES]):
        burner = facts.pots[kettle]
        if facts.kettles[batch, kettle] < jars or burner == facts.options[option, BURNER]:
            continue
        last = max(
            last_taken(floor.taken, facts.rules[KETTLE_ROW] + kettle, start - cook, end),
            last_taken(floor.taken, burner, start - cook, end),
        )
        if last == NONE:
            return kettle, start
        if again == NONE or last + 1 + cook < again:
            again = last + 1 + cook
    return NONE, again


@compiled_inline
def vessel_from(facts: Facts, floor: Floor, option: int, start: int) -> int:
    """``start`` when canner, burner, hands to fill, to unload and to clean are free for a fill that begins there;
    else the next minute at which to look again.
    """
    taken = floor.taken
    out: int = start + facts.options[option, MINUTES]
    unload: int = out - facts.rules[UNLOADING]
    canner = HANDS_ROWS + facts.options[option, CANNER]
    last = max(
        last_taken(taken, canner, start, out), last_taken(taken, facts.options[option, BURNER], start, out)
    )
    if last != NONE:
        return last + 1
    last = last_taken(taken, AT_FILL, start, start + facts.options[option, FILL])
    if last != NONE:
        return last + 1
    last = last_taken(taken, AT_COOLING, unload, out)
    if last != NONE:
        return last + 1 - (unload - start)
    if facts.batches[facts.options[option, BATCH], MEAT]:
        clean = out + facts.rules[CLEANING]
        last = max(last_taken(taken, canner, out, clean), last_taken(taken, AT_CLEANING, out, clean))
        if last != NONE:
            return last + 1 - (out - start)
    return start


@compiled_inline
def table_at(facts: Facts, floor: Floor, batch: int, jars: int, out: int) -> tuple[int, int]:
    """The first cooling table with room for jars that come out then, and that minute; with none, NONE and the minute
    at which space is next given up, or NONE twice.
    """
    end = out + facts.rules[STAND]
    area = jars * facts.batches[batch, JAR_AREA]
    for table in range(facts.rooms.shape[0]):
        if has_room(floor.uses[table], floor.use_counts[table], out, end, facts.rooms[table] - area):
            return table, out
    again = NONE
    for table in range(facts.rooms.shape[0]):
        for use in range(floor.use_counts[table]):
            over = floor.uses[table, use, USE_TO]
            if over > out and (again == NONE or over < again):
                again = over
    return NONE, again


@compiled_inline
def heated_from(facts: Facts, floor: Floor, option: int, jars: int, start: int) -> tuple[int, int]:
    """``start`` when a watcher and a kettle are free for a fill that begins there, else the next minute at which to
    look again, or NONE when there never is one; and the kettle, NONE for raw pack.
    """
    heat_on = facts.options[option, HEAT_ON]
    again = watch_from(floor.taken, facts.rules, start + heat_on, facts.options[option, WATCH])
    if again != start + heat_on:
        return (NONE if again == NONE else again - heat_on), NONE
    batch = facts.options[option, BATCH]
    cook = facts.batches[batch, COOK]
    if cook == 0:
        return start, NONE
    last = last_taken(floor.taken, AT_KETTLE, start - cook, start)
    if last != NONE:
        return last + 1 + cook, NONE
    kettle, again = kettle_at(facts, floor, option, batch, jars, start)
    return again, kettle


@compiled_inline
def site(facts: Facts, floor: Floor, option: int, jars: int, ready: int, latest: int) -> tuple[int, int, int]:
    """The first start in ``[ready, latest]`` at which a load has everything around it, its kettle and its table."""
    batch = facts.options[option, BATCH]
    minutes = facts.options[option, MINUTES]
    tables = facts.rooms.shape[0]
    start = ready
    while NONE < start <= latest:
        again = vessel_from(facts, floor, option, start)
        kettle = NONE
        if again == start:
            again, kettle = heated_from(facts, floor, option, jars, start)
        if again == start:
            if tables == 0:
                return start, kettle, NONE
            table, out = table_at(facts, floor, batch, jars, start + minutes)
            if table != NONE:
                return start, kettle, table
            again = NONE if out == NONE else max(out - minutes, start + 1)
        start = again
    return NONE, NONE, NONE
