"""A question and its untouched resources as arrays for the compiled loops."""

from __future__ import annotations

import math
from collections.abc import Iterable, Sequence

import numpy as np

from scheduler.jars import SHAPES, JarSize
from scheduler.problem import Batch, Day, StationKind
from scheduler.search import layout
from scheduler.search.layout import WORD_BITS, Facts, Floor, Numbers
from scheduler.search.minutes import Count
from scheduler.search.options import Option, Options, most_hands
from scheduler.search.resources import Resources
from scheduler.search.sharing import SIZES, sharing_of
from scheduler.search.stand import area_sq_in
from scheduler.work import prep_minutes

# Areas are counted in millionths of a square inch, so that sums of whole numbers decide, not of fractions.
_PARTS_OF_SQ_IN = 1_000_000
# Hands at a station that is not listed: more than anybody could ask for.
_PLENTY = 1 << 20

_STATIONS = (
    (layout.AT_PREP, StationKind.PREP, False),
    (layout.AT_KETTLE, StationKind.KETTLE, True),
    (layout.AT_FILL, StationKind.FILL, False),
    (layout.AT_CANNER, StationKind.CANNER, True),
    (layout.AT_COOLING, StationKind.COOLING, True),
)


def facts_of(day: Day, options: Options) -> Facts:
    """What does not depend on the order, for the compiled loops."""
    rows = [option for row in options.by_batch for option in row]
    sharing = sharing_of(day, rows)
    batches, prep = _batches(day, options)
    return Facts(
        batches=batches,
        options=_options(day, rows, sharing.kinds),
        prep=prep,
        kettles=_array(
            [[_jars_at_once(batch, k.volume_qt) for k in day.kettles] for batch in day.batches], 2
        ),
        pots=_array([_burner_row(day, kettle.burner_id) for kettle in day.kettles]),
        rooms=_array([int((table.area_sq_in + 1e-9) * _PARTS_OF_SQ_IN) for table in day.tables]),
        rules=_rules(day),
        may_share=sharing.may_share,
        mixed=sharing.mixed,
        mixes=sharing.mixes,
    )


def fresh_floor(day: Day, options: Options, resources: Resources) -> Floor:
    """The day before its first load: what is free is what ``resources`` say is free."""
    minutes = _minutes(day)
    watchers = len(resources.watchers)
    turns = most_turns(day, options)
    spare = np.zeros((layout.SPARE_ROWS + watchers, minutes), dtype=np.int64)
    for row, kind, _ in _STATIONS:
        station = resources.stations.get(kind)
        spare[row] = _PLENTY if station is None else _spare(station, minutes)
    spare[layout.EVERYBODY] = _spare(resources.all, minutes)
    spare[layout.ADULTS] = _spare(resources.adults, minutes)
    for number, watcher in enumerate(resources.watchers):
        spare[layout.SPARE_ROWS + number] = _in_use(watcher.watching, minutes)
    uses = np.zeros((len(day.tables), turns + _most_uses(resources), layout.USE_COLUMNS), dtype=np.int64)
    for number, table in enumerate(resources.tables):
        for place, (start, end, area) in enumerate(table):
            uses[number, place] = (start, end, math.ceil(area * _PARTS_OF_SQ_IN - 1e-3))
    return Floor(
        taken=np.array([_words(mask, minutes) for mask in _masks(day, resources)], dtype=np.int64),
        spare=spare,
        uses=uses,
        use_counts=_array([len(table) for table in resources.tables]),
        loads=np.zeros((turns, layout.LOAD_COLUMNS), dtype=np.int64),
        pieces=np.zeros((turns, layout.PIECE_COLUMNS), dtype=np.int64),
        on_canner=np.zeros((len(day.canners), turns), dtype=np.int64),
        canner_counts=np.zeros(len(day.canners), dtype=np.int64),
        of_batch=np.zeros((layout.BATCH_ROWS, len(day.batches)), dtype=np.int64),
        counts=np.zeros(layout.COUNTS, dtype=np.int64),
        score=np.zeros(layout.LEVELS, dtype=np.int64),
    )


def most_turns(day: Day, options: Options) -> int:
    """More turns than a day has use for: each batch in its smallest loads, and as many again shared out."""
    turns = 1
    for batch, row in zip(day.batches, options.by_batch, strict=True):
        if row:
            turns += 3 + 3 * math.ceil(batch.jars / min(option.jars for option in row))
    return turns


def prep_hands(day: Day) -> int:
    """How many hands prepare one batch together."""
    return min(day.policy.prep_hands, most_hands(day, StationKind.PREP))


def fill_hands(day: Day) -> int:
    """How many hands fill one load together."""
    return min(day.policy.fill_hands, most_hands(day, StationKind.FILL))


def _batches(day: Day, options: Options) -> tuple[Numbers, Numbers]:
    rows, prep = [], [0]
    first = 0
    hands = prep_hands(day)
    for batch, row in zip(day.batches, options.by_batch, strict=True):
        rows.append(
            (
                batch.jars,
                batch.arrival,
                batch.pickup,
                batch.kettle_minutes,
                int(batch.meat_or_fish),
                SIZES.index(batch.jar),
                _area_of(batch.jar),
                len(prep) - 1,
                first,
                first + len(row),
            )
        )
        first += len(row)
        per_jar = batch.prep_person_minutes_per_jar
        prep += [prep_minutes(per_jar, jars, max(1, hands)) for jars in range(1, batch.jars + 1)]
    return _array(rows, 2), _array(prep)


def _options(day: Day, options: Sequence[Option], kinds: Sequence[int]) -> Numbers:
    families = {option.family: 0 for option in options}
    numbers = {family: number for number, family in enumerate(families)}
    rows = [
        (
            option.batch,
            option.canner,
            option.jars,
            option.fill,
            option.minutes,
            option.heat_on,
            option.watch_minutes,
            kind,
            numbers[option.family],
            _burner_row(day, day.canners[option.canner].burner_id),
        )
        for option, kind in zip(options, kinds, strict=True)
    ]
    return np.array(rows, dtype=np.int64).reshape(-1, layout.OPTION_COLUMNS)


def _rules(day: Day) -> Numbers:
    policy = day.policy
    rules = np.zeros(layout.RULES, dtype=np.int64)
    rules[layout.HORIZON] = day.horizon
    rules[layout.UNLOADING] = policy.unloading_minutes
    rules[layout.CLEANING] = policy.cleaning_minutes
    rules[layout.STAND] = policy.cooling_stand_minutes
    rules[layout.PREP_HANDS] = prep_hands(day)
    rules[layout.FILL_HANDS] = fill_hands(day)
    rules[layout.PER_PERSON] = policy.canners_per_person
    rules[layout.MEAT_OUT_BY] = day.horizon if policy.meat_cut_off is None else policy.meat_cut_off
    rules[layout.KETTLE_ROW] = _burner_row(day, None) + 1
    rules[layout.KETTLES] = len(day.kettles)
    rules[layout.WATCHER_ROW] = rules[layout.KETTLE_ROW] + len(day.kettles)
    rules[layout.WATCHERS] = sum(person.may_watch for person in day.people)
    return rules


def _burner_row(day: Day, burner_id: str | None) -> int:
    """The row of a burner in ``Floor.taken``; after the last burner comes the one of kettles without any."""
    place = len(day.burners)
    if burner_id is not None:
        place = next(number for number, burner in enumerate(day.burners) if burner.id == burner_id)
    return layout.HANDS_ROWS + len(day.canners) + place


def _masks(day: Day, have: Resources) -> Iterable[int]:
    """What is taken before the first load, a mask a row, in the order of the rows of ``Floor.taken``."""
    hands = {
        layout.AT_PREP: prep_hands(day),
        layout.AT_FILL: min(day.policy.fill_hands, most_hands(day, StationKind.FILL)),
    }
    for row, kind, adults in _STATIONS:
        yield ~have.free_hands(kind, hands.get(row, 1), adults=adults)
    yield have.all.unfit(1) | have.adults.unfit(1)
    yield from (~free for free in have.canners)
    yield from (~have.burners[burner.id] for burner in day.burners)
    yield 0
    yield from (~free for free in have.kettles)
    for watcher in have.watchers:
        yield ~watcher.here
        yield watcher.watching.unfit(1)
        yield watcher.watching.at_least[0]


def _minutes(day: Day) -> int:
    """The minutes there is a place for: to the end of cleaning after the last possible load, in whole words."""
    last = day.horizon + day.policy.cleaning_minutes
    return (last // WORD_BITS + 2) * WORD_BITS


def _words(mask: int, minutes: int) -> list[int]:
    low = (1 << WORD_BITS) - 1
    return [mask >> start & low for start in range(0, minutes, WORD_BITS)]


def _in_use(count: Count, minutes: int) -> Numbers:
    used = np.zeros(minutes, dtype=np.int64)
    for mask in count.at_least:
        used += _bits(mask, minutes)
    return used


def _spare(count: Count, minutes: int) -> Numbers:
    return count.most - _in_use(count, minutes)


def _bits(mask: int, minutes: int) -> Numbers:
    held = (mask & ((1 << minutes) - 1)).to_bytes(minutes // 8, "little")
    return np.unpackbits(np.frombuffer(held, dtype=np.uint8), bitorder="little").astype(np.int64)


def _most_uses(have: Resources) -> int:
    return max((len(table) for table in have.tables), default=0)


def _area_of(jar: JarSize) -> int:
    return math.ceil(area_sq_in({jar: 1}) * _PARTS_OF_SQ_IN - 1e-3)


def _jars_at_once(batch: Batch, volume_qt: float) -> int:
    """The most jars of the batch that a kettle cooks at once."""
    most = 0
    while most < batch.jars and volume_qt + 1e-9 >= (most + 1) * SHAPES[batch.jar].volume_qt:
        most += 1
    return most


def _array(values: Sequence[object], dimensions: int = 1) -> Numbers:
    found = np.array(values, dtype=np.int64)
    return (
        found
        if found.ndim == dimensions
        else np.zeros((len(values),) + (0,) * (dimensions - 1), dtype=np.int64)
    )
