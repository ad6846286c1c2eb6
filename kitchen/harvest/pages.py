"""Finding the day and the job that an address names, and who helps on a day."""

from __future__ import annotations

from dataclasses import dataclass
from uuid import UUID

from django.db.models import QuerySet

from kitchen.helping.bridge import Hours
from kitchen.helping.queries import clashes_of
from kitchen.members.models import Kitchen, User
from kitchen.planning.models import HarvestDay, PlanJob
from kitchen.prepared import prepared
from kitchen.rota.models import Attendance
from kitchen.rota.queries import attendances_of


@dataclass(frozen=True, slots=True, kw_only=True)
class Helper:
    """Somebody's hours, whether the reader may take them back, and in words the busy times that the person's
    calendar has found in them since.
    """

    attendance: Attendance
    may_take_back: bool
    clash: str


def helpers_of(day: HarvestDay, me: User, *, lead: bool) -> list[Helper]:
    """Who said they will be there. When somebody is busy is for themselves and for the lead to see."""
    attendances = _attendances(day)
    busy = clashes_of([one for one in attendances if lead or one.user_id == me.pk])
    return [
        Helper(
            attendance=one,
            may_take_back=lead or one.user_id == me.pk,
            clash=hours_words(
                day.kitchen,
                tuple(
                    (max(span.starts_at, one.starts_at), min(span.ends_at, one.ends_at))
                    for span in busy.get(one.pk, ())
                ),
            ),
        )
        for one in attendances
    ]


@prepared
def _attendances(day: HarvestDay) -> QuerySet[Attendance]:
    return attendances_of(day)


def hours_words(kitchen: Kitchen, hours: Hours) -> str:
    """Hours as the kitchen's clock shows them: ``09:00 to 12:00 and 14:00 to 16:00``; nothing for none."""
    zone = kitchen.zone
    spans = [f"{starts.astimezone(zone):%H:%M} to {ends.astimezone(zone):%H:%M}" for starts, ends in hours]
    return " and ".join(filter(None, (", ".join(spans[:-1]), *spans[-1:])))


def job_named(day: HarvestDay, uuid: UUID, *, light: bool = False) -> PlanJob:
    """The day's planning job with this id; not found otherwise."""
    found = _jobs_named.or_404(day, uuid, light=light)
    found.harvest_day = day  # It is read already.
    return found


@prepared
def _jobs_named(day: HarvestDay, uuid: UUID, *, light: bool) -> QuerySet[PlanJob]:
    jobs = PlanJob.objects.light() if light else PlanJob.objects.all()
    return jobs.filter(harvest_day=day, uuid=uuid)
