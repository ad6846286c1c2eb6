"""One harvest day in a real browser, from the food that is brought to the seals that are counted."""

from __future__ import annotations

import re
import time
from collections.abc import Callable
from datetime import datetime, timedelta

import pytest
from django.core import mail
from django.utils import timezone
from playwright.sync_api import expect

from kitchen.floor.models import EventKind, RunEvent
from kitchen.members.signing_in import set_password
from kitchen.planning.models import HarvestDay, JobState, Load, LoadState, PlanJob
from kitchen.planning.running import run_job
from kitchen.reminders.sweeping import sweep_due
from tests.factories.sites import Site, make_open_day, make_site
from tests.journeys.visitor import PASSWORD, Visitor
from tests.journeys.ways import ALL

pytestmark = [pytest.mark.browser, pytest.mark.django_db(transaction=True)]

# The jars came out so long ago: they may be counted, and there is time left to process them again.
STOOD_FOR = timedelta(hours=14)


@pytest.fixture
def site() -> Site:
    """A kitchen where clocks are never changed, so that a time typed in always names one moment."""
    made = make_site()
    made.kitchen.time_zone = "America/Phoenix"
    made.kitchen.save()
    for user in (made.lead, made.operator, made.member):
        set_password(user=user, password=PASSWORD, actor=None)
    return made


@pytest.mark.parametrize("width", [390, 1280] if ALL else [390])
def test_a_harvest_day(visit: Callable[[int], Visitor], site: Site, width: int) -> None:
    jars_out_at = timezone.now().astimezone(site.kitchen.zone).replace(second=0, microsecond=0) - STOOD_FOR
    day = make_open_day(site, day=jars_out_at.date())

    bring_food(visit(width), site)
    lead = visit(width)
    plan_the_day(lead, site, day)
    publish(lead, day)
    load = Load.objects.get(portions__batch__member=site.member)
    run_the_load(visit(width), site, load, jars_out_at)

    sweep_due(now=jars_out_at + timedelta(hours=12, minutes=5))
    assert [message.to for message in mail.outbox] == [[site.member.email]]
    count_the_seals(visit(width), str(mail.outbox[0].body), load)
    load.refresh_from_db()
    assert load.state == LoadState.CLOSED


def bring_food(member: Visitor, site: Site) -> None:
    """A member says what she brings, reads how many jars it makes, and has it noted."""
    member.sign_in(site.member.email)
    member.look("home-empty")
    member.page.get_by_role("link", name="Bring food").click()
    member.look("intake")
    member.page.get_by_label("Food").fill("Snap beans")
    member.page.get_by_label("How much").fill("7")
    member.page.get_by_label("counted in").select_option("jars")
    member.page.get_by_label("Jars").select_option("quart")
    member.press("How many jars does that make?")
    expect(member.page.get_by_role("heading", name="That makes 7 jars")).to_be_visible()
    member.look("intake-estimate")
    member.press("Yes, note it")
    expect(member.page.get_by_role("status")).to_contain_text("Noted: 7 jars")
    member.look("home-noted")


def plan_the_day(lead: Visitor, site: Site, day: HarvestDay) -> None:
    """A lead asks for a plan and watches it come; this process stands in for the worker."""
    lead.sign_in(site.lead.email)
    lead.page.get_by_role("main").get_by_role("link", name=re.compile(str(day.date.year))).click()
    lead.look("day-unplanned")
    lead.press("Plan the day")
    lead.page.wait_for_url("**/plans/*/")
    lead.look("progress")
    job = PlanJob.objects.get(harvest_day=day)
    PlanJob.objects.filter(pk=job.pk).update(seconds_limit=2)
    assert run_job(job.pk, clock=time.monotonic)
    job.refresh_from_db()
    assert job.state == JobState.FINISHED, job.failure
    # The page of the progress looks again by itself, and finds the plan.
    expect(lead.page.get_by_role("heading", name="A plan, not published yet")).to_be_visible()


def publish(lead: Visitor, day: HarvestDay) -> None:
    """The lead reads the judge's word and makes the plan the day's truth."""
    expect(lead.page.get_by_text("The judge checked every rule and found none broken.")).to_be_visible()
    lead.look("plan")
    lead.press("Publish this plan")
    expect(lead.page.get_by_role("status")).to_contain_text("The plan is published")
    lead.look("plan-published")
    assert list(day.loads.values_list("state", flat=True)) == [LoadState.PLANNED]


def run_the_load(operator: Visitor, site: Site, load: Load, jars_out_at: datetime) -> None:
    """An operator taps each step of the load, at the times at which it happened, up to jars out."""
    operator.sign_in(site.operator.email)
    page = operator.page
    page.get_by_role("main").get_by_role("link", name=re.compile(str(load.harvest_day.date.year))).click()
    page.get_by_role("link", name=load.canner.name).click()
    operator.look("run-sheet")
    times = step_times(load, jars_out_at)
    card = page.locator("article.now")
    for kind, at in times.items():
        card.get_by_text("It happened at another time").click()
        card.locator("details[id^=other-]").get_by_label("When (empty: now)").fill(f"{at:%Y-%m-%dT%H:%M}")
        operator.press(f"Record “{kind.label}”")
        expect(card.get_by_text(f"Last line: {at:%H:%M} {kind.label}")).to_be_visible()
    page.get_by_text(re.compile("the whole sheet")).click()
    operator.look("run-sheet-running")
    card.get_by_text("It happened at another time").click()
    card.get_by_label("Jars out at (empty: now)").fill(f"{jars_out_at:%Y-%m-%dT%H:%M}")
    operator.press("Record “Jars out”")
    expect(page.get_by_text(re.compile("jars out at"))).to_be_visible()
    operator.look("run-sheet-out")
    assert dict(RunEvent.objects.filter(load=load).values_list("kind", "at")) == {
        **times,
        EventKind.JARS_OUT: jars_out_at,
    }
    load.refresh_from_db()
    assert (load.state, load.deviation) == (LoadState.OUT, "")


def step_times(load: Load, jars_out_at: datetime) -> dict[EventKind, datetime]:
    """When each step of a pressure load happened so that the jars came out then, every phase as planned."""
    length = {phase.kind: phase.ends_at - phase.starts_at for phase in load.phases.all()}
    times: dict[EventKind, datetime] = {}
    at = jars_out_at
    for kind, lasted in (
        (EventKind.LID_OFF, timedelta()),
        (EventKind.ZERO_PRESSURE, length["rest"]),
        (EventKind.HEAT_OFF, length["cool_down"]),
        (EventKind.AT_PRESSURE, length["process"]),
        (EventKind.WEIGHT_ON, length["pressure_up"]),
        (EventKind.STEADY_STEAM, length["vent"]),
        (EventKind.LOADED, length["heat_up"]),
    ):
        at -= lasted
        times[kind] = at
    return dict(reversed(times.items()))


def count_the_seals(member: Visitor, message: str, load: Load) -> None:
    """The member follows the link of the message, not signed in, and counts one jar that did not seal."""
    link = re.search(r"/s/\S+", message)
    assert link is not None, message
    member.page.goto(link.group())
    member.look("seal-check")
    member.page.get_by_label("Sealed", exact=True).fill("6")
    member.page.get_by_label("Not sealed, or doubtful").fill("1")
    member.page.get_by_label("Broken").fill("0")
    member.press("Write it down")
    advice = member.page.get_by_role("main")
    expect(advice).to_contain_text("6 sealed, 1 unsealed, 0 broken")
    expect(advice).to_contain_text("1 jar can be processed again, starting before")
    expect(advice).to_contain_text("Otherwise do not reprocess")
    expect(advice).to_contain_text("refrigerator")
    member.look("seal-counted")


def test_from_the_sign_in_to_the_intake_by_keyboard(visit: Callable[[int], Visitor], site: Site) -> None:
    make_open_day(site, day=timezone.now().astimezone(site.kitchen.zone).date())
    visitor = visit(1280)
    page = visitor.page
    page.goto("/")
    visitor.tab_to("E-mail address")
    page.keyboard.type(site.member.email)
    visitor.tab_to("Password")
    page.keyboard.type(PASSWORD)
    visitor.tab_to("Sign in")
    page.keyboard.press("Enter")
    expect(page.get_by_role("heading", name="Harvest days")).to_be_visible()
    visitor.tab_to("Bring food")
    page.keyboard.press("Enter")
    expect(page.get_by_role("heading", name="What will you bring")).to_be_visible()
    for label, typed in (("Food", "Snap beans"), ("How much", "7"), ("counted in", "j"), ("Jars", "pint")):
        visitor.tab_to(label)
        page.keyboard.type(typed)
    visitor.tab_to("How many jars does that make?")
    page.keyboard.press("Enter")
    expect(page.get_by_role("heading", name="That makes 7 jars")).to_be_visible()
    assert visitor.complaints == []
