"""Reads of the process record."""

from __future__ import annotations

from collections.abc import Collection, Iterable, Sequence
from datetime import date

from django.db import transaction
from django.db.models import Q, QuerySet

from kitchen.floor.models import EventKind, RunEvent
from kitchen.members.queries import people_by_id
from kitchen.planning.models import Load, LoadState
from kitchen.prepared import prepared


def standing_events(load: Load) -> list[RunEvent]:
    """What happened, in the order of the clock: corrected lines are left out, and lines that only withdraw
    one.
    """
    return standing_of(whole_record(load))


def steps_of(lines: Sequence[RunEvent]) -> list[RunEvent]:
    """Of the lines that stand the steps of the cycle: hand-overs of the watch are none."""
    return [line for line in standing_of(lines) if line.kind != EventKind.HAND_OVER]


def newest_hand_over(lines: Sequence[RunEvent]) -> RunEvent | None:
    """The last hand-over of the watch that stands; None while whoever began attends the canner."""
    return next((line for line in reversed(standing_of(lines)) if line.kind == EventKind.HAND_OVER), None)


def whole_record(load: Load) -> list[RunEvent]:
    """Every line ever written, in the order of writing."""
    return lines_of([load])[load.pk]


def lines_of(loads: Iterable[Load]) -> dict[int, list[RunEvent]]:
    """Every line of these loads' records in the order of writing, by load; who wrote many of them is read once."""
    lines: dict[int, list[RunEvent]] = {load.pk: [] for load in loads}
    written = _written(lines)
    people = people_by_id({pk for line in written for pk in (line.recorded_by_id, line.taken_by_id)})
    for line in written:
        line.recorded_by = people[line.recorded_by_id]
        line.taken_by = people[line.taken_by_id] if line.taken_by_id else None
        lines[line.load_id].append(line)
    return lines


@prepared
def _written(loads: Collection[int]) -> QuerySet[RunEvent]:
    # By load the index has them in their order.
    return RunEvent.objects.filter(load__pk__in=loads).order_by("load_id", "pk")


def keys_of_lines(loads: Iterable[Load]) -> dict[int, list[int]]:
    """The keys of every line of these loads' records in the order of writing, by load."""
    keys: dict[int, list[int]] = {load.pk: [] for load in loads}
    for load, key in _keys_written(keys):
        keys[load].append(key)
    return keys


@prepared
def _keys_written(loads: Collection[int]) -> QuerySet[RunEvent, tuple[int, int]]:
    return RunEvent.objects.filter(load__pk__in=loads).order_by("load_id", "pk").values_list("load_id", "pk")


def standing_of(lines: Sequence[RunEvent]) -> list[RunEvent]:
    """Of all lines of a record those that stand, in the order of the clock."""
    corrected = {line.corrects_id for line in lines}
    standing = [line for line in lines if line.pk not in corrected and not line.withdraws]
    return sorted(standing, key=lambda line: (line.at, line.pk))


def newest_line(load: Load) -> int:
    """How far the record has come: the id of the line written last, standing or not; 0 before the first.

    It rises with every line, corrections and withdrawals too, because all lines of a load are written one after
    the other.
    """
    newest = RunEvent.objects.filter(load=load).order_by("-pk").values_list("pk", flat=True).first()
    return newest or 0


def line_after(load: Load, seen: int, kind: EventKind) -> RunEvent | None:
    """The line that was written next after one that was the newest, and that a press of this kind must know of; None
    when none was.

    Steps are overtaken by steps and hand-overs by hand-overs: who attends the canner changes nothing of what comes
    next.
    """
    later = RunEvent.objects.filter(load=load, pk__gt=seen).select_related("recorded_by", "load")
    is_hand_over = Q(kind=EventKind.HAND_OVER)
    return later.filter(is_hand_over if kind is EventKind.HAND_OVER else ~is_hand_over).order_by("pk").first()


def what_came_of(load: Load, seen: int, kind: EventKind) -> RunEvent | None:
    """``line_after``, once every press that is just being written in this record is through.

    Whoever had no answer asks this: a press that was under way when the line broke may still be on its way into the
    record.
    """
    with transaction.atomic():
        Load.objects.select_for_update().get(pk=load.pk)
        return line_after(load, seen, kind)


def loads_run_on(canner_id: int, since: date | None, until: date) -> list[Load]:
    """The loads not thrown out whose heat was put off on this canner, from ``since`` to ``until``.

    None for ``since`` goes back to the first.
    """
    ended = RunEvent.objects.filter(kind=EventKind.HEAT_OFF).values("load")
    run = Load.objects.filter(
        pk__in=ended, canner_id=canner_id, harvest_day__date__lte=until, discarded=False
    )
    if since is not None:
        run = run.filter(harvest_day__date__gte=since)
    return list(run.select_related("harvest_day__kitchen", "canner").order_by("pk"))


def finished_loads() -> QuerySet[Load]:
    """The loads of all kitchens whose jars are out, the oldest first."""
    out = Load.objects.filter(state__in=(LoadState.OUT, LoadState.CLOSED))
    return out.select_related("canner__burner", "harvest_day__kitchen").order_by("jars_out_at", "pk")
