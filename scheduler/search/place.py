"""Placing jars of one batch: into a load already there, else in a load of their own where they are out first."""

from __future__ import annotations

from scheduler.compiled import compiled_inline, compiled_part
from scheduler.search.hands import has_room, take_hands, take_watch, watcher_for
from scheduler.search.layout import (
    AT_CLEANING,
    AT_COOLING,
    AT_FILL,
    AT_KETTLE,
    AT_PREP,
    BATCH,
    BEFORE,
    BURNER,
    CANNER,
    CLEANING,
    COOK,
    EFFORT,
    END,
    FILL,
    FILL_HANDS,
    FIRST,
    HANDS_ROWS,
    HEAT_ON,
    HORIZON,
    JAR_AREA,
    KETTLE,
    KETTLE_ROW,
    KIND,
    LAST_PIECE,
    LOADED,
    LOADS,
    MEAT,
    MEAT_OUT_BY,
    MINUTES,
    MOST,
    NONE,
    OF_BATCH,
    OF_LOAD,
    OF_OPTION,
    OPTION,
    OTHER_SIZE,
    OTHERS,
    PIECE_JARS,
    PIECES,
    PREP_FROM,
    PREP_HANDS,
    PREP_ROW,
    PREP_TO,
    SIZE,
    STAND,
    START,
    TABLE,
    TURN,
    UNLOADING,
    USE_AREA,
    USE_FROM,
    USE_TO,
    WATCH,
    WATCHER,
    Facts,
    Floor,
)
from scheduler.search.site import kettle_at, prep_from, site
from scheduler.search.taken import last_taken, take


@compiled_part
def add_piece(
    facts: Facts, floor: Floor, load: int, option: int, jars: int, prep: int, kettle: int, turn: int
) -> None:
    """Put jars into a load, with their prep, their kettle and their space on the table."""
    batch = facts.options[option, BATCH]
    start = floor.loads[load, START]
    minutes = facts.prep[facts.batches[batch, PREP_ROW] + jars]
    if minutes:
        take_hands(
            floor.taken,
            floor.spare,
            facts.rules,
            AT_PREP,
            prep,
            prep + minutes,
            facts.rules[PREP_HANDS],
            False,
        )
    if kettle != NONE:
        boil = start - facts.batches[batch, COOK]
        end = start + facts.options[floor.loads[load, OPTION], FILL]
        take_hands(floor.taken, floor.spare, facts.rules, AT_KETTLE, boil, start, 1, True)
        take(floor.taken, facts.rules[KETTLE_ROW] + kettle, boil, end)
        if facts.pots[kettle] != facts.rules[KETTLE_ROW] - 1:
            take(floor.taken, facts.pots[kettle], boil, end)
    table = floor.loads[load, TABLE]
    if table != NONE:
        out = start + facts.options[floor.loads[load, OPTION], MINUTES]
        use = floor.uses[table, floor.use_counts[table]]
        use[USE_FROM] = out
        use[USE_TO] = out + facts.rules[STAND]
        use[USE_AREA] = jars * facts.batches[batch, JAR_AREA]
        floor.use_counts[table] += 1
    size = facts.batches[batch, SIZE]
    if size != facts.batches[facts.options[floor.loads[load, OPTION], BATCH], SIZE]:
        floor.loads[load, OTHER_SIZE] = size
        floor.loads[load, OTHERS] += jars
    piece = floor.pieces[floor.counts[PIECES]]
    piece[OF_LOAD] = load
    piece[OF_BATCH] = batch
    piece[OF_OPTION] = option
    piece[PIECE_JARS] = jars
    piece[PREP_FROM] = prep
    piece[PREP_TO] = prep + minutes
    piece[KETTLE] = kettle
    piece[BEFORE] = floor.loads[load, LAST_PIECE]
    piece[TURN] = turn
    floor.loads[load, LAST_PIECE] = floor.counts[PIECES]
    floor.loads[load, LOADED] += jars
    floor.counts[PIECES] += 1


@compiled_part
def open_load(
    facts: Facts,
    floor: Floor,
    option: int,
    jars: int,
    start: int,
    prep: int,
    kettle: int,
    table: int,
    turn: int,
) -> None:
    """A new load, with all that it takes."""
    taken, rules = floor.taken, facts.rules
    batch = facts.options[option, BATCH]
    canner = facts.options[option, CANNER]
    out = start + facts.options[option, MINUTES]
    fill = facts.options[option, FILL]
    heat_on = start + facts.options[option, HEAT_ON]
    watch = facts.options[option, WATCH]
    meat = facts.batches[batch, MEAT]
    take(taken, HANDS_ROWS + canner, start, out + (rules[CLEANING] if meat else 0))
    take(taken, facts.options[option, BURNER], start, out)
    watcher = watcher_for(taken, rules, heat_on, watch)
    take_hands(taken, floor.spare, rules, AT_FILL, start, start + fill, rules[FILL_HANDS], False)
    take_watch(taken, floor.spare, rules, watcher, heat_on, heat_on + watch)
    take_hands(taken, floor.spare, rules, AT_COOLING, out - rules[UNLOADING], out, 1, True)
    if meat:
        take_hands(taken, floor.spare, rules, AT_CLEANING, out, out + rules[CLEANING], 1, True)
    number = floor.counts[LOADS]
    load = floor.loads[number]
    load[OPTION] = option
    load[START] = start
    load[WATCHER] = watcher
    load[TABLE] = table
    load[LOADED] = 0
    load[OTHER_SIZE] = NONE
    load[OTHERS] = 0
    load[LAST_PIECE] = NONE
    floor.on_canner[canner, floor.canner_counts[canner]] = number
    floor.canner_counts[canner] += 1
    floor.counts[LOADS] += 1
    add_piece(facts, floor, number, option, jars, prep, kettle, turn)


@compiled_inline
def goes_with(facts: Facts, floor: Floor, load: int, option: int, jars: int) -> bool:
    """True when so many jars may ride in the load and stand beside what is in it; two sizes at most in one load."""
    host = floor.loads[load, OPTION]
    if not facts.may_share[facts.options[host, KIND], facts.options[option, KIND]]:
        return False
    batch = facts.options[option, BATCH]
    piece = floor.loads[load, LAST_PIECE]
    while piece != NONE:
        if floor.pieces[piece, OF_BATCH] == batch:
            return False
        piece = floor.pieces[piece, BEFORE]
    size = facts.batches[batch, SIZE]
    other, others = floor.loads[load, OTHER_SIZE], floor.loads[load, OTHERS]
    own = floor.loads[load, LOADED] - others
    if size == facts.batches[facts.options[host, BATCH], SIZE]:
        own += jars
    elif other in (NONE, size):
        other = size
        others += jars
    else:
        return False
    if others == 0:
        return True
    page = facts.mixed[facts.options[host, KIND], other]
    return bool(page != NONE and facts.mixes[page, own, others])


@compiled_inline
def ride(facts: Facts, floor: Floor, load: int, batch: int, jars: int, prep: int) -> tuple[bool, int]:
    """Whether jars whose prep begins at ``prep`` come in time for a load and have room on its table; and their kettle,
    NONE for raw pack.
    """
    start = floor.loads[load, START]
    cook = facts.batches[batch, COOK]
    host = floor.loads[load, OPTION]
    if prep == NONE or prep + facts.prep[facts.batches[batch, PREP_ROW] + jars] > start - cook:
        return False, NONE
    table = floor.loads[load, TABLE]
    if table != NONE:
        out = start + facts.options[host, MINUTES]
        room = facts.rooms[table] - jars * facts.batches[batch, JAR_AREA]
        if not has_room(floor.uses[table], floor.use_counts[table], out, out + facts.rules[STAND], room):
            return False, NONE
    if cook == 0:
        return True, NONE
    if last_taken(floor.taken, AT_KETTLE, start - cook, start) != NONE:
        return False, NONE
    kettle, _ = kettle_at(facts, floor, host, batch, jars, start)
    return kettle != NONE, kettle


@compiled_part
def join(facts: Facts, floor: Floor, batch: int, jars: int, turn: int) -> int:
    """Put jars into a load already placed that has room and the same process (rule S2); returns how many."""
    prepared_for, prep = 0, NONE
    for option in range(facts.batches[batch, FIRST], facts.batches[batch, END]):
        canner = facts.options[option, CANNER]
        for place in range(floor.canner_counts[canner]):
            load = floor.on_canner[canner, place]
            room: int = min(jars, facts.options[floor.loads[load, OPTION], MOST] - floor.loads[load, LOADED])
            if room <= 0 or not goes_with(facts, floor, load, option, room):
                continue
            if room != prepared_for:
                prep = prep_from(facts, floor, batch, room)
                prepared_for = room
            rides, kettle = ride(facts, floor, load, batch, room, prep)
            if rides:
                add_piece(facts, floor, load, option, room, prep, kettle, turn)
                return room
    return 0


@compiled_part
def place(facts: Facts, floor: Floor, batch: int, canner: int, jars: int, turn: int) -> int:
    """Place up to so many jars, on this canner if it is not NONE and has time; returns how many found a place."""
    placed = join(facts, floor, batch, jars, turn)
    if placed == 0:
        placed = load_of_its_own(facts, floor, batch, canner, jars, turn)
    if placed == 0 and canner != NONE:
        placed = load_of_its_own(facts, floor, batch, NONE, jars, turn)
    return placed


@compiled_part
def load_of_its_own(facts: Facts, floor: Floor, batch: int, canner: int, jars: int, turn: int) -> int:
    """Open a load where its jars are out first, the shorter cycle when two are as soon; returns how many jars."""
    best, best_start, best_jars, best_prep, best_kettle, best_table = NONE, NONE, 0, NONE, NONE, NONE
    best_out: int = facts.rules[HORIZON]
    if facts.batches[batch, MEAT]:
        best_out = min(best_out, facts.rules[MEAT_OUT_BY])
    prepared_for, prep, ready = 0, NONE, 0
    floor.counts[EFFORT] += 1
    for option in range(facts.batches[batch, FIRST], facts.batches[batch, END]):
        if canner not in (NONE, facts.options[option, CANNER]):
            continue
        floor.counts[EFFORT] += 1
        some = min(jars, facts.options[option, MOST])
        if some != prepared_for:
            prep = prep_from(facts, floor, batch, some)
            prepared_for = some
            ready = prep + facts.prep[facts.batches[batch, PREP_ROW] + some] + facts.batches[batch, COOK]
        if prep == NONE:
            continue
        minutes = facts.options[option, MINUTES]
        start, kettle, table = site(facts, floor, option, some, ready, best_out - minutes)
        if start == NONE:
            continue
        if best == NONE or start + minutes < best_out or minutes < facts.options[best, MINUTES]:
            best, best_start, best_out = option, start, start + minutes
            best_jars, best_prep, best_kettle, best_table = some, prep, kettle, table
    if best != NONE:
        open_load(facts, floor, best, best_jars, best_start, best_prep, best_kettle, best_table, turn)
    return best_jars
