"""``drill topology``: the deployment as it is shipped, used through its proxy, while each part is stopped in turn."""

from __future__ import annotations

import json
from contextlib import ExitStack
from datetime import time, timedelta
from itertools import count
from time import monotonic

from django.db import connection
from django.db.models import F
from django.utils import timezone

from kitchen.api.actions import make_token
from kitchen.api.models import Scope
from kitchen.batches.models import Batch, BatchState, Jar, Pack, Unit
from kitchen.bench.paper_mail import sent_ids
from kitchen.bench.processes import Place, wait_until
from kitchen.bench.sites import Site, make_site
from kitchen.calendars.actions import create_feed
from kitchen.calendars.models import FeedKind
from kitchen.drill.parts import HOST, Parts, as_header
from kitchen.drill.report import Drill, Report, Sizes
from kitchen.errors import BadConfiguration
from kitchen.floor.models import EventKind
from kitchen.planning.models import DayState, HarvestDay, JobState, Load, LoadPortion, PlanJob
from kitchen.reminders.message import message_of
from kitchen.reminders.models import Kind, Reminder, State, SweepRun

_PASSWORD = "remembered by the operator alone"  # noqa: S105  (of a database that is thrown away)
_FOOD = "snap_beans"
# Minutes before now; a load of raw pack snap beans as it would be pressed.
_STEPS = (
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

_Told = dict[str, object]


class _Day:
    """One kitchen's day as its operator sees it through the proxy."""

    def __init__(self, parts: Parts, site: Site) -> None:
        self.parts, self.site, self.numbers = parts, site, count(1)
        operator = site.operators[0]
        operator.set_password(_PASSWORD)
        operator.save()
        token = make_token(user=operator, kitchen=site.kitchen, name="tablet", scopes=[Scope.EVERYTHING])
        lead = make_token(user=site.leads[0], kitchen=site.kitchen, name="office", scopes=[Scope.EVERYTHING])
        feed = create_feed(user=operator, kitchen=site.kitchen, kind=FeedKind.MEMBER)
        self.token, self.lead_token = token.secret, lead.secret
        self.feed = feed.address[feed.address.index("/", len("https://")) :]
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
        wanted: dict[str, object] = {"food": _FOOD, "pack": "raw", "jar": "quart", "jars": 7}
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
        self._batch(day, 0, BatchState.DECLARED)
        return day

    def _batch(self, day: HarvestDay, number: int, state: BatchState) -> Batch:
        return Batch.objects.create(
            kitchen=self.site.kitchen,
            member=self.site.members[number % len(self.site.members)],
            harvest_day=day,
            food_id=_FOOD,
            food_name="Green beans",
            pack=Pack.RAW,
            jar=Jar.QUART,
            amount=7,
            unit=Unit.JARS,
            jars_low=7,
            jars_high=7,
            jars=7,
            arrives_at=day.opens_at,
            picks_up_at=day.closes_at,
            state=state,
        )

    def a_load(self) -> Load:
        """Seven quarts of one member, ready to be run on the next canner."""
        number = next(self.numbers)
        batch = self._batch(self.day, number, BatchState.PLANNED)
        load = Load.objects.create(
            harvest_day=self.day,
            canner=self.site.canners[number % len(self.site.canners)],
            number=number,
            lot_code=f"{self.site.kitchen.site_code}-BEASNA-{number}",
            method="pressure",
            pressure_psi=15,
            process_minutes=25,
        )
        LoadPortion.objects.create(load=load, batch=batch, jars=7, process_key="made up", headspace_in=1)
        return load

    def runs(self, load: Load) -> bool:
        """Press every step of a load, to jars out."""
        now, path = timezone.now(), f"loads/{load.uuid}/record"
        for kind, minutes in _STEPS:
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


def run(sizes: Sizes, place: Place, report: Report) -> None:
    """The day as it should be, then with one part after the other stopped, then a look into every log."""
    if connection.vendor != "postgresql":
        raise BadConfiguration(
            "A deployment stands on PostgreSQL.", remedy="Name a server in KITCHEN_DATABASE_URL."
        )
    site = make_site(0, members=10, today=timezone.now().date())
    with ExitStack() as stack:
        parts = Parts(place, stack)
        parts.start_all(workers=sizes["workers"])
        day = _Day(parts, site)
        report.figure(
            f"PostgreSQL, Redis, nginx, 2 web servers, {sizes['workers']} workers, solver and beat run"
        )
        _as_it_should_be(day, report)
        for stopped in (_one_web, _both_webs, _redis, _workers, _beat, _solver, _database):
            stopped(day, report)
        _in_no_log(day, report)


def _as_it_should_be(day: _Day, report: Report) -> None:
    parts = day.parts
    day.session = parts.sign_in(day.site.operators[0].email, _PASSWORD)
    inside = parts.ask("/", headers=as_header(day.session))
    kept = (
        "__Host-session" in day.session and "sign-in" not in inside.location and inside.status in {200, 302}
    )
    report.promise("signing in through the proxy works", kept=kept)
    report.promise("canner time is booked", kept=day.books())
    load = day.a_load()
    report.promise("a load is pressed to jars out", kept=day.runs(load))
    report.promise("the feed is read", kept=parts.ask(day.feed).body.startswith(b"BEGIN:VCALENDAR"))
    due = day.fast_forward(load)
    _wait_sent(due)
    report.promise("its two reminders go out once each", kept=len(due) == 2 and _once(day, due))
    report.promise("figures are not shown through the proxy", kept=parts.ask("/metrics").status == 404)
    report.promise("all is well in /readyz", kept=_ready(day) == {"ready": True, "degraded": False})


def _one_web(day: _Day, report: Report) -> None:
    day.parts.stop("web-1")
    answers = [day.parts.ask("/healthz").status for _ in range(20)]
    report.promise("one web server stopped: every page comes from the other", kept=answers == [200] * 20)
    day.parts.start("web-1")
    day.parts.wait_for_pages()


def _both_webs(day: _Day, report: Report) -> None:
    load = day.a_load()
    day.runs(load)
    day.parts.stop("web-")
    refused = day.parts.ask(day.feed).status
    due = day.fast_forward(load)
    _wait_sent(due)
    report.promise(
        "both stopped: 502 from the proxy, and reminders go out", kept=refused == 502 and _once(day, due)
    )
    day.parts.start("web-1")
    day.parts.start("web-2")
    day.parts.wait_for_pages()
    wait_until(lambda: day.parts.ask("/healthz").status == 200, what="The proxy's next look")


def _redis(day: _Day, report: Report) -> None:
    day.parts.stop_broker()
    began, load = monotonic(), day.a_load()
    pressed = day.runs(load)
    took = monotonic() - began
    state = day.parts.ask("/readyz").told()
    report.figure(f"without Redis {2 * len(_STEPS)} requests took {took:.1f} s")
    report.promise("Redis stopped: every press is accepted", kept=pressed)
    report.promise(
        "Redis stopped: ready, but degraded for its queue",
        kept=(state["ready"], state["queue"]) == (True, "unreachable"),
    )
    due = day.fast_forward(load)
    day.parts.start_broker()
    _wait_sent(due)
    report.promise("after its return what was due meanwhile goes out once", kept=_once(day, due))


def _workers(day: _Day, report: Report) -> None:
    load = day.a_load()
    names = [name for name in day.parts.running if name.startswith("worker-")]
    day.parts.stop("worker-")
    pressed = day.runs(load)
    due = day.fast_forward(load)
    gone = timedelta(minutes=3)  # So long they seem to have been away, by either clock.
    SweepRun.objects.update(
        wall=F("wall") - gone, elapsed_seconds=F("elapsed_seconds") - gone.total_seconds()
    )
    state = day.parts.ask("/readyz").told()
    report.promise(
        "workers stopped: pages work, and nothing is sent", kept=pressed and not _any_sent(day, due)
    )
    told = (state["ready"], state["sweep"], state["reminders"])
    report.promise(
        "workers stopped: ready, but degraded, and says what is late", kept=told == (True, "late", "late")
    )
    for name in names:
        day.parts.start(name)
    _wait_sent(due)
    report.promise("after their return it goes out once", kept=_once(day, due))


def _beat(day: _Day, report: Report) -> None:
    day.parts.stop("beat")
    load = day.a_load()
    pressed = day.runs(load)
    due = day.fast_forward(load)
    day.runs(day.a_load())  # Whose jars out wakes a worker.
    _wait_sent(due)
    report.promise(
        "beat stopped: jars out still wakes a worker, which sends what is due",
        kept=pressed and _once(day, due),
    )
    day.parts.start("beat")


def _solver(day: _Day, report: Report) -> None:
    """A day of the coming week, with one batch, is planned by whoever may."""
    day.parts.stop("solver")
    status = day.api(f"days/{day.next_week().uuid}/plan-jobs", {"seconds_limit": 1}, lead=True)[0]
    load = day.a_load()
    day.runs(load)
    due = day.fast_forward(load)
    _wait_sent(due)
    waits = PlanJob.objects.filter(state=JobState.WAITING).count()
    kept = waits == 1 and _once(day, due)
    report.promise(f"solver stopped: a plan waits ({status}), and no reminder waits for it", kept=kept)
    day.parts.start("solver")
    ended = PlanJob.objects.exclude(state__in=(JobState.WAITING, JobState.RUNNING))
    if waits:
        wait_until(ended.exists, what="The end of the plan", seconds=300)
    finished = ended.filter(state=JobState.FINISHED).count() == 1
    report.promise("after its return the day is planned", kept=finished)


def _database(day: _Day, report: Report) -> None:
    name = connection.ops.quote_name(str(connection.settings_dict["NAME"]))
    connection.close()
    with connection._nodb_cursor() as cursor:
        cursor.execute(f"ALTER DATABASE {name} ALLOW_CONNECTIONS false")
        cursor.execute(
            "SELECT pg_terminate_backend(pid) FROM pg_stat_activity WHERE datname = %s",
            [connection.settings_dict["NAME"]],
        )
    health, ready = day.parts.ask("/healthz").status, day.parts.ask("/readyz")
    with connection._nodb_cursor() as cursor:
        cursor.execute(f"ALTER DATABASE {name} ALLOW_CONNECTIONS true")
    kept = health == 200 and ready.status == 503 and ready.told()["database"] == "unreachable"
    report.promise("database away: the process answers, and says that it is not ready", kept=kept)
    load = day.a_load()
    wait_until(lambda: day.parts.ask("/readyz").status == 200, what="The way back to the database")
    report.promise(
        "after its return a load is pressed to jars out, with nothing started anew", kept=day.runs(load)
    )
    due = day.fast_forward(load)
    _wait_sent(due)
    report.promise("and its reminders go out once", kept=_once(day, due))


def _in_no_log(day: _Day, report: Report) -> None:
    """Every log of the journey, searched for everything that must not be in one."""
    day.parts.ask(
        day.feed.replace("/feeds/", "/feeds/x")
    )  # An address that is no longer known is logged as such.
    mails = [message_of(one, now=timezone.now()) for one in Reminder.objects.filter(state=State.DONE)]
    secrets = {
        "the feed's secret": {day.feed.split("/")[-1].removesuffix(".ics")},
        "a session": {day.session["__Host-session"]},
        "a form's token": {day.session["__Host-csrf"]},
        "a device's token": {day.token, day.lead_token},
        "the password": {_PASSWORD},
        "a mail's text": {line for mail in mails for line in mail.text.splitlines() if len(line) > 40},
        "a mail's subject": {mail.subject for mail in mails},
    }
    texts = {
        file.name: file.read_text(encoding="utf-8", errors="replace")
        for file in sorted(day.parts.logs.iterdir())
    }
    report.figure(
        "logs: " + ", ".join(f"{name} {len(text.splitlines())} lines" for name, text in texts.items())
    )
    found = [
        f"{what} in {name}"
        for what, values in secrets.items()
        for name, text in texts.items()
        if any(value in text for value in values)
    ]
    report.promise(f"none of {', '.join(secrets)} is in any log {found or ''}".strip(), kept=not found)
    report.promise(
        "the search could find them: the access log has the feed's place",
        kept="/feeds/[secret]" in texts["nginx-access.log"],
    )
    lines = [
        line for name in ("web-1.log", "web-2.log", "nginx-access.log") for line in texts[name].splitlines()
    ]
    report.promise(
        "web servers and proxy write one line of JSON an event", kept=all(_is_json(line) for line in lines)
    )


def _is_json(line: str) -> bool:
    try:
        return isinstance(json.loads(line), dict)
    except ValueError:
        return False


def _ready(day: _Day) -> dict[str, object]:
    told = day.parts.ask("/readyz").told()
    return {name: told[name] for name in ("ready", "degraded")}


def _wait_sent(due: list[Reminder]) -> None:
    left = Reminder.objects.filter(pk__in=[one.pk for one in due]).exclude(state=State.DONE)
    wait_until(lambda: not left.exists(), what="The last reminder")


def _ids(due: list[Reminder]) -> list[str]:
    return sorted(f"<reminder-{one.pk}@{HOST}>" for one in due)


def _once(day: _Day, due: list[Reminder]) -> bool:
    mine = set(_ids(due))
    return sorted(one for one in sent_ids(day.parts.place.mail_file) if one in mine) == _ids(due)


def _any_sent(day: _Day, due: list[Reminder]) -> bool:
    return bool(set(_ids(due)) & set(sent_ids(day.parts.place.mail_file)))


TOPOLOGY = Drill(
    name="topology",
    about="A whole deployment behind nginx; each of its parts is stopped in turn, and the logs are searched.",
    sizes={"workers": 3},
    minutes=15,
    run=run,
)
