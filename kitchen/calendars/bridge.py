"""Rows as the planner's agenda entries, and a calendar as its bytes."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import replace
from datetime import datetime

from kitchen.batches.models import Slot, SlotState
from kitchen.calendars.models import Feed, FeedKind
from kitchen.calendars.queries import (
    loads_of_canner_shown,
    loads_of_day,
    loads_shown,
    lost_shifts_shown,
    portions_shown,
    rota_shown,
    shifts_of_day,
    shifts_shown,
    slots_of_canner_shown,
    slots_shown,
)
from kitchen.equipment.models import Canner
from kitchen.language.said import said
from kitchen.language.units import with_metric
from kitchen.members.models import Kitchen
from kitchen.planning.models import HarvestDay, Load, LoadPortion, LoadState
from kitchen.rota.bridge import shift_entry
from scheduler.agenda import Entry, entry_uid, to_ics, when
from scheduler.caution import CAUTION


def feed_ics(feed: Feed, now: datetime) -> bytes:
    """The calendar behind a feed; the same bytes as long as nothing in it changed."""
    kitchen = feed.kitchen
    if feed.kind == FeedKind.DAYS:
        return _calendar(f"{kitchen}, harvest days", _entries(loads_shown(kitchen, now), kitchen))
    if feed.kind == FeedKind.ROTA:
        shifts = rota_shown(kitchen, now)
        return _calendar(f"{kitchen}, rota", (shift_entry(shift, kitchen, named=True) for shift in shifts))
    if feed.canner is not None:
        return _calendar(f"{kitchen}, {feed.canner}", _canner_entries(feed.canner, kitchen, now))
    entries = [slot_entry(slot, kitchen) for slot in slots_shown(feed.user, kitchen, now)]
    entries += [
        entry
        for portion in portions_shown(feed.user, kitchen, now)
        if (entry := portion_entry(portion, kitchen))
    ]
    entries += [shift_entry(shift, kitchen) for shift in shifts_shown(feed.user, kitchen, now)]
    entries += [
        shift_entry(shift, kitchen, lost=True) for shift in lost_shifts_shown(feed.user, kitchen, now)
    ]
    return _calendar(f"{kitchen}, {feed.user}", entries)


def day_ics(day: HarvestDay) -> bytes:
    """A harvest day's published plan: its loads, and who is where."""
    entries = _entries(loads_of_day(day), day.kitchen)
    entries += [shift_entry(shift, day.kitchen, named=True) for shift in shifts_of_day(day)]
    return _calendar(str(day), entries)


def _canner_entries(canner: Canner, kitchen: Kitchen, now: datetime) -> list[Entry]:
    """When the canner runs a load and when it is taken; what a member cans, and who, is theirs to tell."""
    taken = [
        replace(slot_entry(slot, kitchen), uid=entry_uid("taken", slot.uuid), summary=f"{canner}: taken")
        for slot in slots_of_canner_shown(canner, now)
    ]
    return _entries(loads_of_canner_shown(canner, now), kitchen) + taken


def slot_entry(slot: Slot, kitchen: Kitchen) -> Entry:
    """A member's canner time."""
    time = slot.canner_time
    return Entry(
        uid=entry_uid("slot", slot.uuid),
        start=time.starts_at,
        end=time.ends_at,
        summary=f"Canner time: {time.canner}" + (f", {slot.batch.food_name}" if slot.batch else ""),
        description=when(time.starts_at, time.ends_at, kitchen.zone),
        location=kitchen.name,
        sequence=slot.sequence,
        last_modified=slot.changed_at,
        cancelled=slot.state == SlotState.CANCELLED,
    )


def portion_entry(portion: LoadPortion, kitchen: Kitchen) -> Entry | None:
    """A member's jars in a load; None for a load without phases, which nobody can be told the time of."""
    return _load_entry(
        portion.load,
        kitchen,
        uid=entry_uid("portion", portion.uuid),
        summary=f"My jars: {_jars(portion)}, {portion.load.canner}",
    )


def load_entry(load: Load, kitchen: Kitchen) -> Entry | None:
    """A load with all its jars, but without the names of their members; None for a load without phases."""
    jars = ", ".join(_jars(portion) for portion in load.portions.all())
    return _load_entry(load, kitchen, uid=entry_uid("load", load.uuid), summary=f"{load.canner}: {jars}")


def _calendar(name: str, entries: Iterable[Entry]) -> bytes:
    """The entries as a calendar in the language that is active."""
    return to_ics(
        said(name),
        (
            replace(
                entry,
                summary=said(entry.summary),
                description="\n".join(with_metric(said(line)) for line in entry.description.split("\n")),
            )
            for entry in entries
        ),
    )


def _entries(loads: Iterable[Load], kitchen: Kitchen) -> list[Entry]:
    return [entry for load in loads if (entry := load_entry(load, kitchen))]


def _load_entry(load: Load, kitchen: Kitchen, *, uid: str, summary: str) -> Entry | None:
    """From the first jar in to the last jar out, with the start of each phase and the caution (rule S17)."""
    phases = sorted(load.phases.all(), key=lambda phase: phase.starts_at)
    if not phases:
        return None
    start, end = phases[0].starts_at, max(phase.ends_at for phase in phases)
    steps = [f"{phase.starts_at.astimezone(kitchen.zone):%H:%M} {_plain(phase.kind)}" for phase in phases]
    told = (when(start, end, kitchen.zone), f"Lot {load.lot_code}", *steps, "", CAUTION)
    return Entry(
        uid=uid,
        start=start,
        end=end,
        summary=summary,
        description="\n".join(told),
        location=kitchen.name,
        sequence=load.sequence,
        last_modified=load.changed_at,
        cancelled=load.state == LoadState.CANCELLED,
    )


def _jars(portion: LoadPortion) -> str:
    jars = "jar" if portion.jars == 1 else "jars"
    return f"{portion.jars} {portion.batch.get_jar_display().lower()} {jars} of {portion.batch.food_name}"


def _plain(kind: str) -> str:
    """A phase's kind in words."""
    return kind.replace("_", " ").replace("-", " ")
