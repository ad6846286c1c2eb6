"""``drill topology``: the deployment as it is shipped, used through its proxy, while each part is stopped in turn."""

from __future__ import annotations

from contextlib import ExitStack
from datetime import timedelta
from time import monotonic

from django.db import connection
from django.db.models import F
from django.utils import timezone

from kitchen.bench.paper_mail import sent_ids
from kitchen.bench.processes import Place, wait_until
from kitchen.bench.sites import make_site
from kitchen.drill.logs_searched import search_logs
from kitchen.drill.operators_day import PASSWORD, STEPS, OperatorsDay
from kitchen.drill.parts import HOST, Parts, as_header
from kitchen.drill.report import Drill, Report, Sizes
from kitchen.errors import BadConfiguration
from kitchen.planning.models import JobState, PlanJob
from kitchen.reminders.models import Reminder, State, SweepRun


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
        day = OperatorsDay(parts, site)
        report.figure(
            f"PostgreSQL, Redis, nginx, 2 web servers, {sizes['workers']} workers, solver and beat run"
        )
        _as_it_should_be(day, report)
        for stopped in (_one_web, _both_webs, _redis, _workers, _beat, _solver, _database):
            stopped(day, report)
        search_logs(day, report)


def _as_it_should_be(day: OperatorsDay, report: Report) -> None:
    parts = day.parts
    day.session = parts.sign_in(day.site.operators[0].email, PASSWORD)
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


def _one_web(day: OperatorsDay, report: Report) -> None:
    day.parts.stop("web-1")
    answers = [day.parts.ask("/healthz").status for _ in range(20)]
    report.promise("one web server stopped: every page comes from the other", kept=answers == [200] * 20)
    day.parts.start("web-1")
    day.parts.wait_for_pages()


def _both_webs(day: OperatorsDay, report: Report) -> None:
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


def _redis(day: OperatorsDay, report: Report) -> None:
    day.parts.stop_broker()
    began, load = monotonic(), day.a_load()
    pressed = day.runs(load)
    took = monotonic() - began
    state = day.parts.ask("/readyz").told()
    report.figure(f"without Redis {2 * len(STEPS)} requests took {took:.1f} s")
    report.promise("Redis stopped: every press is accepted", kept=pressed)
    report.promise(
        "Redis stopped: ready, but degraded for its queue",
        kept=(state["ready"], state["queue"]) == (True, "unreachable"),
    )
    due = day.fast_forward(load)
    day.parts.start_broker()
    _wait_sent(due)
    report.promise("after its return what was due meanwhile goes out once", kept=_once(day, due))


def _workers(day: OperatorsDay, report: Report) -> None:
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


def _beat(day: OperatorsDay, report: Report) -> None:
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


def _solver(day: OperatorsDay, report: Report) -> None:
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


def _database(day: OperatorsDay, report: Report) -> None:
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


def _ready(day: OperatorsDay) -> dict[str, object]:
    told = day.parts.ask("/readyz").told()
    return {name: told[name] for name in ("ready", "degraded")}


def _wait_sent(due: list[Reminder]) -> None:
    left = Reminder.objects.filter(pk__in=[one.pk for one in due]).exclude(state=State.DONE)
    wait_until(lambda: not left.exists(), what="The last reminder")


def _ids(due: list[Reminder]) -> list[str]:
    return sorted(f"<reminder-{one.pk}@{HOST}>" for one in due)


def _once(day: OperatorsDay, due: list[Reminder]) -> bool:
    mine = set(_ids(due))
    return sorted(one for one in sent_ids(day.parts.place.mail_file) if one in mine) == _ids(due)


def _any_sent(day: OperatorsDay, due: list[Reminder]) -> bool:
    return bool(set(_ids(due)) & set(sent_ids(day.parts.place.mail_file)))


TOPOLOGY = Drill(
    name="topology",
    about="A whole deployment behind nginx; each of its parts is stopped in turn, and the logs are searched.",
    sizes={"workers": 3},
    minutes=15,
    run=run,
)
