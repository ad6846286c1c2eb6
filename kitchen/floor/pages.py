"""What the run sheets show live: for each canner one load at hand, with one next step."""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Container, Iterable, Mapping, Sequence
from dataclasses import dataclass
from datetime import datetime, timedelta
from math import ceil
from uuid import UUID
from zlib import crc32

from django.db.models import QuerySet
from django.utils.functional import Promise

from kitchen.equipment.models import Canner, CannerKind
from kitchen.floor.bridge import pictures_of
from kitchen.floor.models import EventKind, RunEvent
from kitchen.floor.queries import keys_of_lines, lines_of, newest_hand_over, steps_of, what_came_of
from kitchen.floor.rules import HAND_OVER_MINUTES, LOSSES, Tap, next_kinds, steps_as_taps
from kitchen.floor.sheets import Sheet, sheet_of
from kitchen.floor.waits import Wait, expected_next, wait_of
from kitchen.floor.words import headline
from kitchen.members.models import Kitchen, User
from kitchen.members.queries import who_may_watch
from kitchen.planning.models import HarvestDay, Load, LoadState
from kitchen.planning.queries import fill_in, loads_in
from kitchen.prepared import prepared
from kitchen.rota.models import Shift
from kitchen.rota.queries import watches_of

# While these come next, the heat is on and what the gauge shows matters.
_GOAL_MATTERS = frozenset({EventKind.LOADED, EventKind.AT_PRESSURE, EventKind.FULL_BOIL, EventKind.HEAT_OFF})
# The picture on the card, beside those of the sheets, which are told apart by the load's number.
_NEXT = "next"
# No database counts further.
_MOST_DIGITS = 18


@dataclass(frozen=True, slots=True, kw_only=True)
class Fate:
    """What became of a press that got no answer: ``event`` is its line, None when it never arrived."""

    words: str
    event: RunEvent | None


@dataclass(frozen=True, slots=True, kw_only=True)
class Card:
    """The load at hand at a canner, and what comes next there.

    ``seen`` is the newest line of its record, which every press names. ``step`` comes next: pressed at once when it
    ``is_due``, else after ``wait``. ``since`` is when the last step happened. ``mishap`` may happen meanwhile.
    ``steps`` are all that may be recorded, with a time or a remark. ``picture`` is there while loading.

    ``hand_over`` says who took over the watch, and ``both_until`` how long the two stay together, None when that is
    over. ``takers`` may take it over next: none unless the heat is on.
    """

    sheet: Sheet
    seen: int
    headline: Promise
    step: EventKind
    steps: list[EventKind]
    wait: Wait | None
    is_due: bool
    is_lost: bool
    since: datetime | None
    expected: datetime | None
    mishap: EventKind | None
    watching: list[Shift]
    relief: Shift | None
    picture: str
    hand_over: RunEvent | None
    both_until: datetime | None
    takers: list[User]

    @property
    def load(self) -> Load:
        """The load itself."""
        return self.sheet.load

    @property
    def until_ms(self) -> str:
        """When the wait is over, for the page's script: milliseconds of Unix time, as digits in every language."""
        return milliseconds(self.wait.until) if self.wait else ""

    @property
    def since_ms(self) -> str:
        """Likewise, when the last step happened."""
        return milliseconds(self.since) if self.since else ""

    @property
    def shows_goal(self) -> bool:
        """Whether what the gauge must show stands on the card: while coming to pressure and during the process."""
        return self.step in _GOAL_MATTERS

    @property
    def asks_temperature(self) -> bool:
        """Whether the temperature of the food may be written down: as the heat goes on."""
        return self.step is EventKind.LOADED

    @property
    def asks_reading(self) -> bool:
        """Whether what the gauge shows may be written down with a step; a weighted gauge shows nothing."""
        return self.load.canner.kind == CannerKind.DIAL and (
            self.step is EventKind.AT_PRESSURE or self.mishap is not None
        )


@dataclass(frozen=True, slots=True, kw_only=True)
class CannerPage:
    """A canner on a day: the load at hand, None when all are done, and the sheets that are shown.

    ``loads`` tells of each load, shown or not, what the page changes with.
    """

    canner: Canner
    card: Card | None
    sheets: list[Sheet]
    loads: list[tuple[object, ...]]

    @property
    def state(self) -> int:
        """Changes with whatever would change the page, but for the clock's own going on."""
        card = self.card
        at_hand = card and (
            card.load.pk,
            card.seen,
            card.is_due,
            card.both_until,
            [one.pk for one in card.watching],
        )
        return crc32(repr((at_hand, self.loads)).encode())


def any_day_named(kitchen: Kitchen, uuid: UUID) -> HarvestDay:
    """The kitchen's day with this id, a harvest day or one of booked canner time; not found otherwise."""
    found = _days_named.or_404(kitchen, uuid)
    found.kitchen = kitchen  # It is read already.
    return found


@prepared
def _days_named(kitchen: Kitchen, uuid: UUID) -> QuerySet[HarvestDay]:
    return HarvestDay.objects.filter(kitchen=kitchen, uuid=uuid)


def milliseconds(moment: datetime) -> str:
    """A moment for the page's script, never rounded to an earlier one."""
    return str(ceil(moment.timestamp() * 1000))


def canner_pages(
    day: HarvestDay,
    canners: Iterable[Canner],
    now: datetime,
    *,
    chosen: str = "",
    with_sheets: bool = False,
    only: Container[int] | None = None,
) -> list[CannerPage]:
    """The pages of these canners on a day.

    They hold the sheets of all loads, with pictures, if they are asked for ``with_sheets``, else of those at hand.
    ``chosen`` is the load to have at hand first, where it may be; ``only`` the keys of the loads that are shown, None
    for all.
    """
    vessels = list(canners)
    loads = [load for load in loads_in(day, vessels) if only is None or load.pk in only]
    keys, watches = keys_of_lines(loads), _watches_by_load(day)
    own = {canner.pk: [load for load in loads if load.canner_id == canner.pk] for canner in vessels}
    at_hand = {pk: _at_hand(some, keys, chosen) for pk, some in own.items()}
    shown = loads if with_sheets else [load for load in at_hand.values() if load is not None]
    fill_in(shown)
    lines, may_watch = lines_of(shown), _may_watch(day, loads)
    pages = []
    for canner in vessels:
        first = at_hand[canner.pk]
        pictures = _pictures(canner, own[canner.pk], first, keys, day) if with_sheets else {}
        sheets = [
            sheet_of(load, lines[load.pk], watches[load.pk], pictures)
            for load in own[canner.pk]
            if load.pk in lines
        ]
        cards = (
            _card(one, lines[one.load.pk], pictures.get(_NEXT, ""), may_watch, now)
            for one in sheets
            if one.load == first
        )
        told = [_told(load, keys[load.pk], watches[load.pk]) for load in own[canner.pk]]
        pages.append(CannerPage(canner=canner, card=next(cards, None), sheets=sheets, loads=told))
    return pages


def _watches_by_load(day: HarvestDay) -> defaultdict[int | None, list[Shift]]:
    found: defaultdict[int | None, list[Shift]] = defaultdict(list)
    for watch in watches_of(day):
        found[watch.load_id].append(watch)
    return found


def _pictures(
    canner: Canner,
    loads: Sequence[Load],
    at_hand: Load | None,
    keys: Mapping[int, list[int]],
    day: HarvestDay,
) -> dict[str, str]:
    """The pictures of these loads, and once more of the one at hand as long as nothing of it is recorded."""
    drawn = {str(load.number): load for load in loads}
    if at_hand is not None and not keys[at_hand.pk]:
        drawn[_NEXT] = at_hand
    return pictures_of(canner, drawn, day.date)


def _told(load: Load, keys: list[int], watches: Iterable[Shift]) -> tuple[object, ...]:
    return (
        load.pk,
        load.state,
        load.on_hold,
        load.deviation,
        load.target_reading_psi,
        keys,
        [(shift.user_id, shift.sequence) for shift in watches],
    )


def fate_of(day: HarvestDay, asked: Mapping[str, str]) -> Fate | None:
    """What became of the press that ``asked`` names: its step, its load and the newest line that it was shown for."""
    kind, uuid, seen = (asked.get(name, "") for name in ("pressed", "of", "seen"))
    if kind not in EventKind.values or not seen.isdecimal():
        return None
    load = next((one for one in day.loads.select_related("canner") if str(one.uuid) == uuid), None)
    if load is None:
        return None
    line = what_came_of(load, int(seen[:_MOST_DIGITS]), EventKind(kind))
    is_it = line is not None and line.kind == kind and line.corrects_id is None
    return Fate(words=EventKind(kind).label, event=line if is_it else None)


def _at_hand(loads: Sequence[Load], keys: Mapping[int, list[int]], chosen: str) -> Load | None:
    """The load that runs, the one last written about of several; else the one chosen, else the first to come."""
    running = [load for load in loads if load.state == LoadState.RUNNING]
    planned = [load for load in loads if load.state == LoadState.PLANNED]
    by_choice = [load for load in (*running, *planned) if str(load.uuid) == chosen]
    if by_choice and (by_choice[0] in running or not running):
        return by_choice[0]
    if running:
        return max(running, key=lambda load: max(keys[load.pk], default=0))
    return planned[0] if planned else None


def _may_watch(day: HarvestDay, loads: Iterable[Load]) -> list[User]:
    """Who may take over a watch; nobody is asked for while no load runs."""
    if all(load.state != LoadState.RUNNING for load in loads):
        return []
    return [membership.user for membership in who_may_watch(day.kitchen, day.date)]


def _card(
    sheet: Sheet, lines: Sequence[RunEvent], picture: str, may_watch: list[User], now: datetime
) -> Card | None:
    load, standing = sheet.load, steps_of(lines)
    taps = steps_as_taps(lines)
    steps = next_kinds(load.canner, standing)
    is_lost = bool(taps) and taps[-1].kind in LOSSES
    step = next((kind for kind in steps if kind not in LOSSES), None)
    if step is None:
        return None
    wait = wait_of(load, taps)
    is_due = wait is None or wait.is_over(now)
    handed = newest_hand_over(lines)
    until = None if handed is None else handed.at + timedelta(minutes=HAND_OVER_MINUTES)
    return Card(
        sheet=sheet,
        seen=max((line.pk for line in lines), default=0),
        headline=headline(load.canner, step, is_due=is_due, is_lost=is_lost),
        step=step,
        steps=steps,
        wait=wait,
        is_due=is_due,
        is_lost=is_lost,
        since=taps[-1].at if taps else None,
        expected=expected_next(load, taps),
        mishap=next((kind for kind in steps if kind in LOSSES), None),
        watching=[one for one in sheet.watches if one.starts_at <= now < one.ends_at],
        relief=next((one for one in sheet.watches if one.starts_at > now), None),
        picture=picture,
        hand_over=handed,
        both_until=until if until is not None and now < until else None,
        takers=[one for one in may_watch if _is_hot(taps) and (handed is None or handed.taken_by != one)],
    )


def _is_hot(taps: Sequence[Tap]) -> bool:
    """Whether the canner is to be watched: from heat on to heat off (rule S9)."""
    return bool(taps) and all(tap.kind is not EventKind.HEAT_OFF for tap in taps)
