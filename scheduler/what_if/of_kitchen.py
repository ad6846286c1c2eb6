"""What the kitchen could do otherwise for everybody. No change touches a rule, a gauge check or a policy."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass, replace
from typing import Literal

from scheduler.day_writing import spans_toml
from scheduler.interval import Span, merge, subtract
from scheduler.problem import CoolingTable, Day, Hands, Kettle, Person, Station
from scheduler.what_if.edits import Edit
from scheduler.what_if.shared import added, clock_of, free_id


@dataclass(frozen=True, slots=True, kw_only=True)
class OneMoreKettle:
    """One more kettle, on a burner of its own."""

    kind: Literal["one-more-kettle"] = "one-more-kettle"
    volume_qt: float

    def apply(self, day: Day) -> Day:
        """The day with the kettle."""
        return replace(day, kettles=(*day.kettles, self._kettle(day)))

    def words(self, day: Day) -> str:
        """What the lead would do."""
        return f"Bring one more kettle of {self.volume_qt:g} quarts, with a burner of its own."

    def edits(self, day: Day) -> tuple[Edit, ...]:
        """The same in the day file."""
        kettle = self._kettle(day)
        return (added("kettle", id=kettle.id, name=kettle.name, volume_qt=kettle.volume_qt),)

    def _kettle(self, day: Day) -> Kettle:
        number = free_id("more-kettle", (one.id for one in day.kettles))
        return Kettle(id=number, name="One more kettle", volume_qt=self.volume_qt)


@dataclass(frozen=True, slots=True, kw_only=True)
class OneMoreTable:
    """One more table for jars to cool on."""

    kind: Literal["one-more-table"] = "one-more-table"
    area_sq_in: float

    def apply(self, day: Day) -> Day:
        """The day with the table."""
        return replace(day, tables=(*day.tables, self._table(day)))

    def words(self, day: Day) -> str:
        """What the lead would do."""
        return f"Set up one more cooling table of {self.area_sq_in:,.0f} square inches."

    def edits(self, day: Day) -> tuple[Edit, ...]:
        """The same in the day file."""
        table = self._table(day)
        return (added("table", id=table.id, name=table.name, area_sq_in=table.area_sq_in),)

    def _table(self, day: Day) -> CoolingTable:
        number = free_id("more-table", (one.id for one in day.tables))
        return CoolingTable(id=number, name="One more table", area_sq_in=self.area_sq_in)


@dataclass(frozen=True, slots=True, kw_only=True)
class OneMorePerson:
    """One more grown-up helps, trained for canners or not.

    ``with_place`` gives every station that is listed room for one more pair of hands in the person's hours.
    """

    kind: Literal["one-more-person"] = "one-more-person"
    trained: bool
    hours: tuple[Span, ...]
    with_place: bool = False

    def apply(self, day: Day) -> Day:
        """The day with the person."""
        stations = tuple(self._wider(one) for one in day.stations) if self.with_place else day.stations
        return replace(day, people=(*day.people, self._person(day)), stations=stations)

    def words(self, day: Day) -> str:
        """What the lead would do."""
        clock = clock_of(day)
        when = ", ".join(clock.span_words(span.start, span.end) for span in self.hours)
        who = "One more person trained for canners" if self.trained else "One more helper, not under 16"
        place = ", with room for one more pair of hands at every station" if self.with_place else ""
        return f"{who} from {when}{place}."

    def edits(self, day: Day) -> tuple[Edit, ...]:
        """The same in the day file."""
        person, clock = self._person(day), clock_of(day)
        entry = added("person", id=person.id, name=person.name, trained=person.trained)
        hours = (("hours", spans_toml(person.hours, clock)),)
        entry = replace(entry, values=entry.values + hours)
        if not self.with_place:
            return (entry,)
        return (entry, *station_edits(day, self.apply(day)))

    def _person(self, day: Day) -> Person:
        name = free_id("one-more", (one.id for one in day.people))
        return Person(id=name, name="One more", hours=self.hours, trained=self.trained)

    def _wider(self, station: Station) -> Station:
        pieces: list[Hands] = []
        for one in station.hands:
            outside = subtract((one.span,), self.hours)
            pieces += [Hands(span=span, count=one.count) for span in outside]
            pieces += [Hands(span=span, count=one.count + 1) for span in subtract((one.span,), outside)]
        return replace(station, hands=tuple(sorted(pieces, key=lambda hands: hands.span)))


@dataclass(frozen=True, slots=True, kw_only=True)
class CloseLater:
    """The kitchen closes later; whoever and whatever is there at closing stays on."""

    kind: Literal["close-later"] = "close-later"
    minutes: int

    def apply(self, day: Day) -> Day:
        """The day with the later closing."""

        def longer(spans: Iterable[Span]) -> tuple[Span, ...]:
            return merge(self._longer(span, day.horizon) for span in spans)

        return replace(
            day,
            opening=longer(day.opening),
            canners=tuple(replace(one, service=longer(one.service)) for one in day.canners),
            people=tuple(replace(one, hours=longer(one.hours)) for one in day.people),
            stations=tuple(
                replace(
                    one,
                    hands=tuple(
                        replace(hands, span=self._longer(hands.span, day.horizon)) for hands in one.hands
                    ),
                )
                for one in day.stations
            ),
        )

    def words(self, day: Day) -> str:
        """What the lead would do."""
        clock = clock_of(day)
        staying = [one.name for one in self.staying(day)]
        stay = f"these stay on: {', '.join(staying)}" if staying else "nobody stays that long"
        return f"Close at {clock.words(day.horizon + self.minutes)} instead of {clock.words(day.horizon)}; {stay}."

    def edits(self, day: Day) -> tuple[Edit, ...]:
        """The same in the day file."""
        after, clock = self.apply(day), clock_of(day)
        first = after.opening[0]
        hours = (
            (
                ("opens", f'"{clock.written(first.start)}"'),
                ("closes", f'"{clock.written(first.end)}"'),
            )
            if len(after.opening) == 1
            else (("hours", spans_toml(after.opening, clock)),)
        )
        return (
            Edit(table="kitchen", values=hours),
            *_canner_edits(day, after),
            *station_edits(day, after),
            *_people_edits(day, after),
        )

    def staying(self, day: Day) -> tuple[Person, ...]:
        """The people who are there at closing and would stay on."""
        return tuple(one for one in day.people if any(span.end == day.horizon for span in one.hours))

    def _longer(self, span: Span, closing: int) -> Span:
        return Span(span.start, span.end + self.minutes) if span.end == closing else span


def station_edits(day: Day, after: Day) -> tuple[Edit, ...]:
    """The hands of the stations that another day has otherwise."""
    clock = clock_of(day)
    edits: list[Edit] = []
    for before, now in zip(day.stations, after.stations, strict=True):
        if before == now:
            continue
        counts = {hands.count for hands in now.hands}
        all_day = merge(hands.span for hands in now.hands) == merge(after.opening) and len(counts) == 1
        listed = ", ".join(
            f'{{ from = "{clock.written(one.span.start)}", to = "{clock.written(one.span.end)}", hands = {one.count} }}'
            for one in now.hands
        )
        value = ("hands", str(counts.pop())) if all_day else ("hours", f"[{listed}]")
        edits.append(Edit(table="station", entries=(now.kind.value,), values=(value,)))
    return _together(edits)


def _canner_edits(day: Day, after: Day) -> tuple[Edit, ...]:
    """A canner that is out of service at closing stays so: the file must say until when."""
    clock = clock_of(day)
    return _together(
        Edit(
            table="canner",
            entries=(before.id,),
            values=(("out_of_service", spans_toml(subtract(after.opening, before.service), clock)),),
        )
        for before in day.canners
        if not any(span.end == day.horizon for span in before.service)
    )


def _people_edits(day: Day, after: Day) -> tuple[Edit, ...]:
    clock = clock_of(day)
    return _together(
        Edit(table="person", entries=(now.id,), values=(("hours", spans_toml(now.hours, clock)),))
        for before, now in zip(day.people, after.people, strict=True)
        if before.hours != now.hours
    )


def _together(edits: Iterable[Edit]) -> tuple[Edit, ...]:
    """Edits that write the same become one that names all its entries."""
    found: dict[tuple[tuple[str, str], ...], Edit] = {}
    for edit in edits:
        known = found.get(edit.values)
        found[edit.values] = edit if known is None else replace(known, entries=known.entries + edit.entries)
    return tuple(found.values())
