"""One kitchen's day as its operator lives it through a deployment's proxy, for ``drill topology``."""

from __future__ import annotations

from datetime import time, timedelta
from itertools import count
from urllib.parse import urlsplit

from django.db.models import F
from django.utils import timezone

from kitchen.api.actions import make_token
from kitchen.api.models import Scope
from kitchen.batches.models import BatchState
from kitchen.bench.jars import FOOD, JARS, a_batch, a_load, a_portion
from kitchen.bench.sites import Site
from kitchen.calendars.actions import create_feed
from kitchen.calendars.models import FeedKind
from kitchen.drill.parts import Parts
from kitchen.floor.models import EventKind
from kitchen.planning.models import DayState, HarvestDay, Load
from kitchen.reminders.models import Kind, Reminder

PASSWORD = "remembered by the operator alone"  # noqa: S105  (of a database that is thrown away)
# Minutes before now; a load of raw pack snap beans as it would be pressed.
STEPS = (
    (EventKind.LOADED, 120),
    (EventKind.STEADY_STEAM, 108),
    (EventKind.WEIGHT_ON, 97),
    (EventKind.AT_PRESSURE, 91),
    (EventKind.HEAT_OFF, 65),
    (EventKind.ZERO_PRESSURE, 19),
    (EventKind.LID_OFF, 7),
    (EventKind.JARS_OUT, 1),
)
_A_DAY = timedelta(hours=24)


class OperatorsDay:
    """One kitchen's day as its operator sees it through the proxy."""

    def __init__(self, parts: Parts, site: Site) -> None:
        self.parts, self.site, self.numbers = parts, site, count(1)
        operator = site.operators[0]
        operator.set_password(PASSWORD)
        operator.save()
        token = make_token(user=operator, kitchen=site.kitchen, name="tablet", scopes=[Scope.EVERYTHING])
        lead = make_token(user=site.leads[0], kitchen=site.kitchen, name="office", scopes=[Scope.EVERYTHING])
        feed = create_feed(user=operator, kitchen=site.kitchen, kind=FeedKind.MEMBER)
        self.token, self.lead_token = token.secret, lead.secret
        self.feed = urlsplit(feed.address).path
        self.session: dict[str, str] = {}
        now = timezone.now()
        self.day = HarvestDay.objects.create(
            kitchen=site.kitchen,
            date=now.astimezone(site.kitchen.zone).date(),
            opens_at=now - timedelta(hours=6),
            closes_at=now + timedelta(hours=6),
            state=DayState.PUBLISHED,
        )

    def api(
        self, path: str, told: dict[str, object] | None = None, *, lead: bool = False
    ) -> tuple[int, dict[str, object]]:
        """An answer of the API of this kitchen."""
        headers = {"Authorization": f"Bearer {self.lead_token if lead else self.token}"}
        if told is not None:
            headers["Idempotency-Key"] = f"topology-{next(self.numbers)}"
        answer = self.parts.ask(
            f"/api/v1/kitchens/{self.site.kitchen.uuid}/{path}", told=told, headers=headers
        )
        return answer.status, answer.told() if answer.body.startswith((b"{", b"[")) else {}

    def books(self) -> bool:
        """Look for a time, hold the first and book it."""
        wanted: dict[str, object] = {"food": FOOD, "pack": "raw", "jar": "quart", "jars": JARS}
        found = self.api("times?" + "&".join(f"{name}={value}" for name, value in wanted.items()))[1]
        times = found.get("times")
        if not isinstance(times, list) or not times:
            return False
        chosen = {name: times[0][name] for name in ("arrives_at", "starts_at", "ends_at")}
        canner = times[0]["canner"]["id"]
        held = self.api("holds", {**wanted, **chosen, "canner": canner})[1]
        return self.api("slots", {"hold": held.get("id")})[0] == 201

    def next_week(self) -> HarvestDay:
        """A day that is to be planned, with one batch."""
        then = self.day.date + timedelta(days=7)
        opens_at, closes_at = self.site.at(then, time(8)), self.site.at(then, time(18))
        day = HarvestDay.objects.create(
            kitchen=self.site.kitchen, date=then, opens_at=opens_at, closes_at=closes_at, state=DayState.DRAFT
        )
        a_batch(self.site, day, 0, BatchState.DECLARED).save()
        return day

    def a_load(self) -> Load:
        """Seven quarts of one member, ready to be run on the next canner."""
        number = next(self.numbers)
        batch, load = a_batch(self.site, self.day, number), a_load(self.site, self.day, number)
        batch.save()
        load.save()
        a_portion(load, batch).save()
        return load

    def runs(self, load: Load) -> bool:
        """Press every step of a load, to jars out."""
        now, path = timezone.now(), f"loads/{load.uuid}/record"
        for kind, minutes in STEPS:
            seen = self.api(path)[1].get("seen", 0)
            at = (now - timedelta(minutes=minutes)).isoformat()
            if self.api(path, {"kind": kind, "seen": seen, "at": at})[0] != 201:
                return False
        return True

    def fast_forward(self, load: Load) -> list[Reminder]:
        """A day goes by for the reminders of a load, which thereby are due."""
        mine = Reminder.objects.filter(portion__load=load).exclude(kind=Kind.ROTA)
        mine.update(
            jars_out_at=F("jars_out_at") - _A_DAY,
            due_at=F("due_at") - _A_DAY,
            next_attempt_at=F("next_attempt_at") - _A_DAY,
        )
        return list(mine)
