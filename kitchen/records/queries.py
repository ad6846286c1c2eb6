"""Reads of loads whose records wait for somebody."""

from __future__ import annotations

from datetime import datetime

from django.db.models import BigIntegerField, Exists, OuterRef, QuerySet, Subquery, Value
from django.db.models.functions import Coalesce

from kitchen.floor.models import RunEvent
from kitchen.members.models import Kitchen, User
from kitchen.planning.models import HarvestDay, Load, LoadState
from kitchen.records.models import RecordSignature, SignatureKind

MOST_ON_A_LIST = 25
"""So many records are listed at most, the oldest first."""


def loads_to_review(kitchen: Kitchen) -> QuerySet[Load]:
    """Loads that are out and not reviewed as they stand: never, or before their newest line or deviation, or sent back.

    A record in which something else changed, such as a gauge check dated back, says so on its own page only.
    """
    out = Load.objects.filter(
        harvest_day__kitchen=kitchen, state__in=(LoadState.OUT, LoadState.CLOSED), reviewed=False
    )
    waiting = out.filter(Exists(RunEvent.objects.filter(load=OuterRef("pk"))))
    return waiting.order_by("jars_out_at", "pk")


def loads_to_sign(
    kitchen: Kitchen, user: User, since: datetime, *, booked_only: bool = False
) -> QuerySet[Load]:
    """Loads that came out since then, in whose record this person wrote and which they have not signed as it stands.

    ``booked_only`` is for members, who sign what they ran in canner time that was booked.
    """
    lines = RunEvent.objects.filter(load=OuterRef("pk"))
    back = RecordSignature.objects.filter(load=OuterRef("pk"), kind=SignatureKind.SENT_BACK).order_by("-pk")
    signed = RecordSignature.objects.filter(
        load=OuterRef("pk"),
        kind=SignatureKind.SIGNED,
        by=user,
        last_line=OuterRef("newest_line"),
        pk__gt=OuterRef("sent_back"),
    )
    out = Load.objects.filter(
        harvest_day__kitchen=kitchen,
        state__in=(LoadState.OUT, LoadState.CLOSED),
        jars_out_at__gte=since,
    ).annotate(
        newest_line=Subquery(lines.order_by("-pk").values("pk")[:1]),
        sent_back=Coalesce(Subquery(back.values("pk")[:1]), Value(0), output_field=BigIntegerField()),
    )
    mine = out.filter(Exists(lines.filter(recorded_by=user)), ~Exists(signed))
    if booked_only:
        mine = mine.filter(slot__isnull=False)
    return mine.select_related("canner").order_by("jars_out_at", "pk")


def ran_it(user: User, load: Load) -> bool:
    """True when somebody wrote in the record of a load in canner time that was booked."""
    return load.slot_id is not None and RunEvent.objects.filter(load=load, recorded_by=user).exists()


def recorded_loads(day: HarvestDay) -> QuerySet[Load]:
    """The day's loads that somebody wrote about, in the order of canner and number."""
    lines = RunEvent.objects.filter(load=OuterRef("pk"))
    told = Load.objects.filter(Exists(lines), harvest_day=day)
    return told.order_by("canner__code", "number", "pk")
