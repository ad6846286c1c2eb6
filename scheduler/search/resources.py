"""What a day has, minute by minute, and what the loads placed so far have taken of it."""

from __future__ import annotations

from dataclasses import dataclass

from scheduler.interval import Span
from scheduler.problem import Day, StationKind
from scheduler.rota.rested import able, rested
from scheduler.search.minutes import Count, block, count_of, mask_of


@dataclass(slots=True)
class Watcher:
    """A trained person: the minutes here, and how many canners are watched at each."""

    index: int
    here: int
    watching: Count


class Resources:
    """The free minutes of everything in a day. ``copy`` starts a new decoding from an untouched day.

    ``there`` is the day with people's rests taken out of their hours; the usual ones without it.
    """

    __slots__ = (
        "adults", "all", "burners", "canners", "kettle_hands", "kettles", "open", "stations", "tables", "watchers",
    )  # fmt: skip

    def __init__(self, day: Day, there: Day | None = None) -> None:
        # On a day under way people rest as it can be managed: nothing begun is moved for it.
        if there is None:
            there = rested(day) if day.floor is None else able(day)
        day = there
        end = day.horizon
        self.open = mask_of(day.opening)
        self.canners = [self.open & mask_of(canner.service) for canner in day.canners]
        self.burners = {burner.id: self.open for burner in day.burners}
        self.kettles = [self.open for _ in day.kettles]
        self.all = count_of(((span, 1) for person in day.people for span in person.hours), end)
        self.adults = count_of(
            ((span, 1) for person in day.people if not person.under_16 for span in person.hours), end
        )
        self.stations: dict[StationKind, Count] = {
            station.kind: count_of(((hands.span, hands.count) for hands in station.hands), end)
            for station in day.stations
        }
        self.watchers = [
            Watcher(index, mask_of(person.hours), Count(day.policy.canners_per_person))
            for index, person in enumerate(day.people)
            if person.may_watch
        ]
        self.tables: list[list[tuple[int, int, float]]] = [
            [(use.span.start, use.span.end, use.area_sq_in) for use in table.taken] for table in day.tables
        ]

    def copy(self) -> Resources:
        """An independent copy."""
        twin = Resources.__new__(Resources)
        twin.open = self.open
        twin.canners = self.canners.copy()
        twin.burners = self.burners.copy()
        twin.kettles = self.kettles.copy()
        twin.all = self.all.copy()
        twin.adults = self.adults.copy()
        twin.stations = {kind: count.copy() for kind, count in self.stations.items()}
        twin.watchers = [Watcher(one.index, one.here, one.watching.copy()) for one in self.watchers]
        twin.tables = [uses.copy() for uses in self.tables]
        return twin

    def free_hands(self, kind: StationKind, hands: int, *, adults: bool) -> int:
        """The minutes with so many hands to spare at a station, from people who may work there."""
        taken = self.all.unfit(hands)
        if adults:
            taken |= self.adults.unfit(hands)
        station = self.stations.get(kind)
        if station is not None:
            taken |= station.unfit(hands)
        return self.open & ~taken

    def take_hands(self, kind: StationKind, start: int, end: int, hands: int, *, adults: bool) -> None:
        """Use hands at a station."""
        mask = block(start, end)
        self.all.add(mask, hands)
        if adults:
            self.adults.add(mask, hands)
        if kind in self.stations:
            self.stations[kind].add(mask, hands)

    def watch_minutes(self, watcher: Watcher) -> int:
        """The minutes in which this person can take one more canner.

        Someone already watching only needs room for it; someone else must also be spared elsewhere.
        """
        busy = watcher.watching.at_least[0]
        spare = self.free_hands(StationKind.CANNER, 1, adults=True)
        return watcher.here & ~watcher.watching.unfit(1) & (busy | spare)

    def take_watch(self, watcher: Watcher, start: int, end: int) -> None:
        """Put one more canner into this person's care."""
        mask = block(start, end)
        newly = mask & ~watcher.watching.at_least[0]
        watcher.watching.add(mask)
        self.all.add(newly)
        self.adults.add(newly)
        if StationKind.CANNER in self.stations:
            self.stations[StationKind.CANNER].add(newly)

    def table_for(self, day: Day, span: Span, area_sq_in: float) -> int | None:
        """The first cooling table with this much room for the whole span (rule S12)."""
        for number, table in enumerate(day.tables):
            if self.most_used(number, span) + area_sq_in <= table.area_sq_in + 1e-9:
                return number
        return None

    def most_used(self, number: int, span: Span) -> float:
        """The most area taken on a table at any minute of the span."""
        uses = [use for use in self.tables[number] if use[0] < span.end and span.start < use[1]]
        edges = {span.start, *(start for start, _, _ in uses if start > span.start)}
        return max(
            (sum(area for start, end, area in uses if start <= edge < end) for edge in edges), default=0.0
        )
