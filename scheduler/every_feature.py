"""Made-up days with everything a kitchen may say of itself, for judging the planner: the same seed, the same day.

Where ``generator`` makes days that are full but fit, these are odd on purpose: several days with a midday closure,
burners under two vessels, canners away, worn or never checked, tables with yesterday's jars, people who come and go
and ask for much (``made_up_wishes``), and foods of every guide in every jar, some of which nobody may can there.
"""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass, replace
from datetime import date, timedelta
from functools import cache
from random import Random

from scheduler.canner import ELECTRIC_EFFICIENCY, GAS_EFFICIENCY, INDUCTION_EFFICIENCY, Burner, Canner
from scheduler.canner_kind import CannerKind
from scheduler.errors import NoPublishedProcess
from scheduler.foods import find_food
from scheduler.interval import Span, subtract
from scheduler.jars import JarSize, Pack, stands_for
from scheduler.made_up_wishes import with_wishes
from scheduler.pace import Pace
from scheduler.problem import (
    Batch,
    CoolingTable,
    Day,
    Hands,
    Kettle,
    Person,
    Policy,
    Station,
    StationKind,
    TableUse,
)
from scheduler.process import find_processes, printed_processes
from scheduler.rack import capacity
from scheduler.wall_clock import wall_clock
from scheduler.work import usual_work

_DAY_MINUTES = 24 * 60
_QUARTER_HOUR = 15
# In two of the zones the clocks change within the range of dates; one has an offset of half an hour.
_ZONES = ("UTC", "America/Denver", "Europe/Oslo", "Australia/Adelaide")
_FIRST_DATE, _DATES = date(2026, 1, 1), 700
# Inside, on and just above the edges of printed bands (rule S1).
_ALTITUDES_FT = (0.0, 600.0, 1000.0, 1000.5, 2600.0, 4500.0, 6001.0, 8000.0)
_EFFICIENCIES = (GAS_EFFICIENCY, ELECTRIC_EFFICIENCY, INDUCTION_EFFICIENCY)
# So that nearly every food can be canned somewhere.
_FIRST_KINDS = (CannerKind.BOILING_WATER, CannerKind.WEIGHTED)
_DEPTHS_IN = {CannerKind.BOILING_WATER: (9.0, 11.0, 14.0), CannerKind.STEAM: (9.0, 11.0)}
_MEMBERS = ("Alder", "Bramble", "Clover", "Dock", "Fern", "Heather", "Ivy", "Larch", "Moss", "Rush", "Sedge")


def every_feature_day(seed: int) -> Day:
    """A small day, or up to three, with policies, things, people and foods of all kinds."""
    # Not for secrets: the seed must bring the same day back.
    return _Maker(Random(f"every feature {seed}")).day(seed)  # noqa: S311 - repeatable, no secret


@dataclass(frozen=True, slots=True)
class _Maker:
    """One day in the making; every figure is drawn in turn, so that the order of drawing is part of the day."""

    random: Random

    def day(self, seed: int) -> Day:
        """Draw what there is, then what is brought to it."""
        random = self.random
        zone = random.choice(_ZONES)
        on = _FIRST_DATE + timedelta(days=random.randrange(_DATES))
        opening = tuple(span for number in range(random.choice((1, 1, 2, 3))) for span in self._hours(number))
        vessels = random.randint(2, 6)
        kettles = 0 if self._is(0.04) else random.randint(1, 5)
        burners = tuple(self._burner(number) for number in range(vessels - self._is(0.3)))
        people = [self._person(number, opening) for number in range(random.randint(4, 14))]
        day = Day(
            kitchen=f"Odd Kitchen {seed}",
            altitude_ft=random.choice(_ALTITUDES_FT),
            time_zone=zone,
            date=on,
            origin=wall_clock(on, zone).origin,
            opening=opening,
            burners=burners,
            canners=tuple(self._canner(number, burners, opening, on) for number in range(vessels)),
            kettles=tuple(self._kettle(number, burners) for number in range(kettles)),
            stations=self._stations(opening) if self._is(0.7) else (),
            people=tuple(one for one in people if one.hours),
            tables=tuple(self._table(number, opening) for number in range(random.choice((0, 2, 3)))),
            batches=(),
            policy=self._policy(opening),
        )
        batches = tuple(self._batch(number, day) for number in range(random.randint(2, 9)))
        return with_wishes(replace(day, batches=batches), random)

    def _is(self, share: float) -> bool:
        return self.random.random() < share

    def _quarter(self, least: int, most: int) -> int:
        return self.random.randrange(least, max(least, most) + 1, _QUARTER_HOUR)

    def _hours(self, number: int) -> Iterator[Span]:
        opens = self._quarter(6 * 60, 9 * 60) + number * _DAY_MINUTES
        closes = self._quarter(opens + 6 * 60, opens + 14 * 60)
        if self._is(0.25):
            middle = self._quarter(opens + 120, closes - 120)
            yield Span(opens, middle)
            opens = middle + 45
        yield Span(opens, closes)

    def _burner(self, number: int) -> Burner:
        return Burner(
            id=f"burner-{number}",
            name=f"Burner {number}",
            power_w=self.random.choice((1800, 2400, 3000, 3500)),
            efficiency=self.random.choice(_EFFICIENCIES),
        )

    def _canner(
        self, number: int, burners: tuple[Burner, ...], opening: tuple[Span, ...], on: date
    ) -> Canner:
        """On a burner of its own, as long as there is one."""
        kind = _FIRST_KINDS[number] if number < len(_FIRST_KINDS) else self.random.choice(tuple(CannerKind))
        canner = Canner(
            id=f"canner-{number}",
            name=f"Canner {number}",
            kind=kind,
            inside_diameter_in=self.random.choice((9.5, 12.5, 12.5, 15.5)),
            inside_depth_in=self.random.choice(_DEPTHS_IN.get(kind, (7.0, 10.5, 13.0))),
            burner_id=burners[number % len(burners)].id,
            service=self._service(opening),
            layers=2 if kind is not CannerKind.STEAM and self._is(0.4) else 1,
            own_counts={JarSize.QUART: self.random.randint(1, 3)} if self._is(0.1) else {},
            water_l=self.random.choice((None, None, 3.0, 8.0)),
            own_heat_up_minutes=self.random.choice((None, None, None, 18, 40)),
            pace=self._pace(kind),
        )
        return self._under_pressure(canner, on) if kind.is_pressure else canner

    def _under_pressure(self, canner: Canner, on: date) -> Canner:
        canner = replace(
            canner,
            heavy_walled=self._is(0.4),
            own_pressure_up_minutes=self.random.choice((None, None, 8)),
            own_cool_down_minutes={JarSize.QUART: 45, JarSize.PINT: 35} if self._is(0.2) else {},
        )
        if canner.kind is not CannerKind.DIAL:
            return canner
        checked = on - timedelta(days=self.random.randint(0, 380))
        error = self.random.choice((0.0, 0.0, 0.5, 1.5, -1.5, 2.5))
        return replace(canner, gauge_checked_on=None if self._is(0.05) else checked, gauge_error_psi=error)

    def _service(self, opening: tuple[Span, ...]) -> tuple[Span, ...]:
        """All the time, with a hole or an end that is lent out, or never."""
        if self._is(0.05):
            return ()
        if self._is(0.6):
            return opening
        start = self._quarter(opening[0].start, opening[-1].end - 120)
        return subtract(opening, (Span(start, start + self.random.choice((60, 150, 600))),))

    def _pace(self, kind: CannerKind) -> Pace:
        if self._is(0.4):
            return Pace()
        heat_up, pressure_up, cool_down = (self.random.uniform(0.5, 2.0) for _ in range(3))
        return (
            Pace(heat_up=heat_up, pressure_up=pressure_up, cool_down=cool_down)
            if kind.is_pressure
            else Pace(heat_up=heat_up)
        )

    def _kettle(self, number: int, burners: tuple[Burner, ...]) -> Kettle:
        """Some stand on a burner that a canner may need as well."""
        return Kettle(
            id=f"kettle-{number}",
            name=f"Kettle {number}",
            volume_qt=self.random.choice((6.0, 12.0, 16.0, 24.0)),
            burner_id=self.random.choice(burners).id if self._is(0.3) else None,
        )

    def _stations(self, opening: tuple[Span, ...]) -> tuple[Station, ...]:
        """Not every station is listed, and the hands are not the same all day; for a time there may be none."""
        listed = {
            kind: tuple(hands for span in opening for hands in self._hands(span))
            for kind in StationKind
            if self._is(0.8)
        }
        return tuple(Station(kind=kind, hands=hands) for kind, hands in listed.items() if hands)

    def _hands(self, span: Span) -> Iterator[Hands]:
        middle = span.start + span.minutes // 2
        pieces = (Span(span.start, middle), Span(middle, span.end)) if self._is(0.3) else (span,)
        for piece in pieces:
            count = self.random.choice((0, 1, 2, 2, 3, 3, 4, 4, 6, 8))
            if count:
                yield Hands(span=piece, count=count)

    def _person(self, number: int, opening: tuple[Span, ...]) -> Person:
        hours = tuple(hours for span in opening if self._is(0.95) for hours in self._presence(span))
        under_16 = self._is(0.2)
        return Person(
            id=f"person-{number}",
            name=f"Helper {number}",
            hours=hours,
            trained=not under_16 and self._is(0.5),
            under_16=under_16,
        )

    def _presence(self, span: Span) -> Iterator[Span]:
        """All the time, a part of it, or with an hour away."""
        start, end = span.start, span.end
        if self._is(0.3):
            start = self._quarter(start, end - 60)
        if self._is(0.3):
            end = self._quarter(start + 60, end)
        if self._is(0.2) and end - start > 240:
            away = self._quarter(start + 60, end - 120)
            yield Span(start, away)
            start = away + 60
        yield Span(start, end)

    def _table(self, number: int, opening: tuple[Span, ...]) -> CoolingTable:
        area = self.random.choice((400.0, 2000.0, 3456.0))
        until = self._quarter(opening[0].start, opening[0].end + 6 * 60)
        taken = (TableUse(span=Span(opening[0].start - 600, until), area_sq_in=area * self.random.random()),)
        return CoolingTable(
            id=f"table-{number}",
            name=f"Table {number}",
            area_sq_in=area,
            taken=taken if self._is(0.4) else (),
        )

    def _policy(self, opening: tuple[Span, ...]) -> Policy:
        random = self.random
        return Policy(
            canners_per_person=random.choice((1, 2, 2, 3, 6)),
            fill_wait_limit_minutes=random.choice((8, 20, 20, 20, 60)),
            cool_down_minutes=random.choice((20, 40, 40, 60)),
            share_under_longest=self._is(0.4),
            cleaning_minutes=random.choice((5, 15, 60)),
            cooling_stand_minutes=random.choice((720, 1000, 1440)),
            meat_cut_off=self._quarter(opening[0].start + 180, opening[-1].end) if self._is(0.5) else None,
            loading_minutes=random.choice((2, 5, 12)),
            unloading_minutes=random.choice((2, 5, 12)),
            prep_hands=random.choice((1, 2, 4)),
            fill_hands=random.choice((1, 2, 3)),
            fill_pace=random.uniform(0.5, 2.0) if self._is(0.6) else 1.0,
            confirmed_processes=_to_confirm() if self._is(0.5) else frozenset(),
        )

    def _batch(self, number: int, day: Day) -> Batch:
        food, pack, jar = self._lot(day)
        usual = usual_work(food, pack, jar)
        kettle_minutes = self.random.choice((usual.kettle_minutes, usual.kettle_minutes, 45))
        span = self.random.choice(day.opening)
        arrival = span.start if self._is(0.5) else self._quarter(span.start, span.end - span.minutes // 2)
        return Batch(
            id=f"batch-{number}",
            member=self.random.choice(_MEMBERS),
            food_id=food,
            pack=pack,
            jar=jar,
            jars=self._jars(),
            arrival=arrival,
            pickup=arrival + self._quarter(120, 16 * 60),
            prep_person_minutes_per_jar=self.random.choice((0.0, 2.5, usual.prep_person_minutes_per_jar)),
            kettle_minutes=kettle_minutes if pack is Pack.HOT else 0,
            meat_or_fish=find_food(food).meat_or_fish,
        )

    def _jars(self) -> int:
        """Too few for a load, about a load, or several loads."""
        least, most = self.random.choice(((1, 3), (4, 14), (4, 14), (10, 40)))
        return self.random.randint(least, most)

    def _lot(self, day: Day) -> tuple[str, Pack, JarSize]:
        """What one of the canners may run, most of the time; else what is printed at all, or in another jar."""
        can_run = [lot for lot in _printed_lots() if _runs(lot, day)]
        food, pack, jar = self.random.choice(can_run if can_run and self._is(0.95) else _printed_lots())
        if self._is(0.12):
            jar = self.random.choice([other for other in JarSize if jar in stands_for(other)])
        return food, pack, jar


_Lot = tuple[str, Pack, JarSize]


@cache
def _printed_lots() -> tuple[_Lot, ...]:
    return tuple(dict.fromkeys((one.food_id, one.pack, one.jar) for one in printed_processes()))


@cache
def _to_confirm() -> frozenset[str]:
    """Every printed row, as if a lead had confirmed them all: those seen on no page are still never scheduled."""
    return frozenset(one.key for one in printed_processes())


def _runs(lot: _Lot, day: Day) -> bool:
    return any(
        _is_published(lot, canner.kind, day.altitude_ft, bool(day.policy.confirmed_processes))
        and capacity(canner, lot[2])
        for canner in day.canners
        if canner.service
    )


@cache
def _is_published(lot: _Lot, kind: CannerKind, altitude_ft: float, confirmed: bool) -> bool:
    try:
        lines = find_processes(*lot, kind, altitude_ft)
    except NoPublishedProcess:
        return False
    return any(line.schedulable(_to_confirm() if confirmed else frozenset()) for line in lines)
