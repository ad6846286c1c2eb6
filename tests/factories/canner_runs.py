"""A load that stands on the plan of a day, to be run: seven quarts of beans, or nine pints of applesauce."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import datetime, timedelta

from kitchen.equipment.models import CannerTime, Purpose
from kitchen.floor.actions import jars_out, record_event
from kitchen.floor.models import EventKind, RunEvent
from kitchen.planning.models import HarvestDay, Load, LoadPhase, LoadPortion
from scheduler.canner_kind import CannerKind
from scheduler.jars import JarSize, Pack
from scheduler.process import find_processes
from tests.factories.sites import Site, declare, make_open_day

# Minutes of each phase. Raw pack snap beans in quarts take 25 minutes at 15 lb at 2,450 ft, hot pack
# applesauce
# in pints 20 in boiling water (USDA AIB 539, Guides 4 and 2); the other lengths are only plausible.
BEANS = {
    "loading": 5,
    "heat_up": 12,
    "vent": 10,
    "pressure_up": 5,
    "process": 25,
    "cool_down": 45,
    "rest": 10,
    "unloading": 5,
}
APPLESAUCE = {"loading": 5, "heat_up": 20, "process": 20, "rest": 5, "unloading": 5}


@dataclass(frozen=True, slots=True, kw_only=True)
class Run:
    """A planned load with its site; ``at`` counts minutes from its loading."""

    site: Site
    day: HarvestDay
    load: Load
    portion: LoadPortion

    def at(self, minutes: float) -> datetime:
        """So many minutes after loading began as planned."""
        return self.site.at(9) + timedelta(minutes=minutes)

    def tap(self, kind: EventKind, minutes: float, reading_psi: float | None = None) -> RunEvent:
        """The operator taps at once when it happens."""
        at = self.at(minutes)
        return record_event(
            load=self.load, kind=kind, at=at, actor=self.site.operator, reading_psi=reading_psi, now=at
        )

    def take_out(self, minutes: float, deviation: str = "") -> Load:
        """The operator taps jars out."""
        at = self.at(minutes)
        return jars_out(load=self.load, at=at, actor=self.site.operator, deviation=deviation, now=at)

    def fresh(self) -> Load:
        """The load as the database has it now."""
        return Load.objects.get(pk=self.load.pk)


# Minutes after loading began, as planned: 117 in all for beans, 55 for applesauce.
BEAN_TAPS = (
    (EventKind.LOADED, 5),
    (EventKind.STEADY_STEAM, 17),
    (EventKind.WEIGHT_ON, 27),
    (EventKind.AT_PRESSURE, 32),
    (EventKind.HEAT_OFF, 57),
    (EventKind.ZERO_PRESSURE, 102),
    (EventKind.LID_OFF, 112),
)
BEANS_OUT = 117
APPLESAUCE_TAPS = ((EventKind.LOADED, 5), (EventKind.FULL_BOIL, 25), (EventKind.HEAT_OFF, 45))
APPLESAUCE_OUT = 55


def make_bean_run(site: Site) -> Run:
    """Seven quarts of beans in the weighted canner at nine, of one member."""
    day = make_open_day(site)
    return _make(site, day, BEANS, food="snap_beans", pack="raw", jar="quart", jars=7)


def make_applesauce_run(site: Site) -> Run:
    """Nine pints of applesauce in boiling water at nine, of one member."""
    day = make_open_day(site)
    return _make(site, day, APPLESAUCE, food="applesauce", pack="hot", jar="pint", jars=9)


def make_beans_out(site: Site) -> Run:
    """The bean run, recorded without a fault, its jars out."""
    run = make_bean_run(site)
    for kind, minutes in BEAN_TAPS:
        run.tap(kind, minutes)
    run.take_out(BEANS_OUT)
    return run


def _make(
    site: Site, day: HarvestDay, phases: dict[str, int], *, food: str, pack: str, jar: str, jars: int
) -> Run:
    batch = declare(site, day, food=food, pack=pack, jar=jar, jars=jars)
    batch.state = "planned"
    batch.save()
    under_pressure = "vent" in phases
    canner = site.weighted if under_pressure else site.boiling
    start = site.at(9)
    end = start + timedelta(minutes=sum(phases.values()))
    load = Load.objects.create(
        harvest_day=day,
        canner=canner,
        number=1,
        lot_code=f"{site.kitchen.site_code}-{food[:3].upper()}-26255-{canner.code}-1",
        canner_time=CannerTime.objects.create(
            kitchen=site.kitchen, canner=canner, starts_at=start, ends_at=end, purpose=Purpose.LOAD
        ),
        method="pressure_weighted" if under_pressure else "boiling_water",
        pressure_psi=15 if under_pressure else None,
        target_reading_psi=15 if under_pressure else None,
        process_minutes=phases["process"],
    )
    for kind, minutes in phases.items():
        LoadPhase.objects.create(
            load=load, kind=kind, starts_at=start, ends_at=start + timedelta(minutes=minutes)
        )
        start += timedelta(minutes=minutes)
    process, *_ = find_processes(
        food, Pack(pack), JarSize(jar), CannerKind(canner.kind), site.kitchen.altitude_ft
    )
    portion = LoadPortion.objects.create(
        load=load, batch=batch, jars=jars, process_key=process.key, headspace_in=process.headspace_in
    )
    return Run(site=site, day=day, load=load, portion=portion)
