"""The harvest day's pages: who sees which plan, who may make and publish one, and how they are told."""

from __future__ import annotations

import pytest
from django.test import Client
from django.urls import reverse

from kitchen.batches.actions import cancel_batch
from kitchen.batches.models import Batch
from kitchen.learning.models import TimedKind
from kitchen.members.models import User
from kitchen.planning.jobs import note_progress, start_job
from kitchen.planning.models import DayState, HarvestDay, JobState, Load, PlanJob
from kitchen.planning.running import run_job
from kitchen.rota.models import Attendance
from scheduler.caution import CAUTION
from tests.factories.measured import measure_canner
from tests.factories.sites import Site, declare, make_open_day, make_site, plan, publish

pytestmark = pytest.mark.django_db


@pytest.fixture
def site() -> Site:
    return make_site()


@pytest.fixture
def day(site: Site) -> HarvestDay:
    opened = make_open_day(site)
    declare(site, opened)
    return opened


def signed_in(user: User) -> Client:
    client = Client()
    client.force_login(user)
    return client


def address(name: str, site: Site, day: HarvestDay, job: PlanJob | None = None) -> str:
    return reverse(f"harvest:{name}", args=[site.kitchen.slug, day.uuid, *([job.uuid] if job else [])])


def page(user: User, site: Site, day: HarvestDay) -> str:
    return signed_in(user).get(address("day", site, day)).content.decode()


def test_an_empty_day_says_how_to_begin(site: Site) -> None:
    told = page(site.member, site, make_open_day(site, helpers=False))
    assert "Nobody has said what they will bring" in told
    assert "Nobody has said when they can help" in told
    assert CAUTION in told.replace("&#x27;", "'")


def test_only_a_lead_is_offered_a_plan(site: Site, day: HarvestDay) -> None:
    assert "Plan the day</button>" in page(site.lead, site, day)
    assert "Plan the day</button>" not in page(site.member, site, day)


def test_a_member_who_asks_for_a_plan_all_the_same_is_refused(site: Site, day: HarvestDay) -> None:
    answer = signed_in(site.member).post(address("plan", site, day), follow=True)
    assert "may not plan a harvest day" in answer.content.decode()
    assert not PlanJob.objects.exists()


def test_planning_shows_its_progress_and_leads_back(site: Site, day: HarvestDay) -> None:
    lead = signed_in(site.lead)
    waiting = lead.post(address("plan", site, day), follow=True)
    job = PlanJob.objects.get()
    assert waiting.redirect_chain[-1][0] == address("progress", site, day, job)
    assert 'http-equiv="refresh" content="2"' in waiting.content.decode()
    assert "Waiting for the worker" in waiting.content.decode()
    assert start_job(job_id=job.pk) is not None
    level = {
        "name": "lateness",
        "value": 30,
        "bound": 10,
        "bound_name": "each batch alone",
        "unit": "minutes",
    }
    note_progress(job_id=job.pk, progress={"levels": [level], "iterations": 4, "elapsed_seconds": 1.5})
    running = lead.get(address("progress", site, day, job)).content.decode()
    assert "30 minutes; proven not below 10 (each batch alone), gap 66.7%" in running
    lead.post(address("stop", site, day, job))
    job.refresh_from_db()
    assert job.state == JobState.STOP_ASKED


def test_a_finished_job_leads_to_the_plan_and_its_chart(site: Site, day: HarvestDay) -> None:
    job = plan(site, day)
    lead = signed_in(site.lead)
    assert lead.get(address("progress", site, day, job)).headers["Location"] == address("day", site, day)
    told = page(site.lead, site, day)
    assert "The judge checked every rule and found none broken." in told
    assert "Publish this plan" in told
    assert "jars left out</th><td>0 jars; proven best" in told
    picture = lead.get(address("chart", site, day, job))
    assert picture.headers["Content-Type"] == "image/svg+xml"
    assert picture.content.startswith(b"<svg")


def test_a_plan_that_is_not_published_is_the_leads_alone(site: Site, day: HarvestDay) -> None:
    job = plan(site, day)
    told = page(site.member, site, day)
    assert "The lead has not published a plan yet" in told
    assert "The judge" not in told
    member = signed_in(site.member)
    assert member.get(address("chart", site, day, job)).status_code == 403
    assert member.get(address("progress", site, day, job)).status_code == 403


def test_publishing_shows_the_plan_and_the_run_sheets_to_everybody(site: Site, day: HarvestDay) -> None:
    job = plan(site, day)
    refused = signed_in(site.member).post(address("publish", site, day, job), follow=True)
    assert "may not publish a plan" in refused.content.decode()
    assert not Load.objects.exists()
    answer = signed_in(site.lead).post(address("publish", site, day, job), follow=True)
    assert "The plan is published." in answer.content.decode()
    day.refresh_from_db()
    assert day.state == DayState.PUBLISHED
    told = page(site.member, site, day)
    canner = Load.objects.get().canner
    assert reverse("floor:run-sheet", args=[site.kitchen.slug, day.uuid, canner.uuid]) in told
    assert "Publish this plan" not in told


def test_a_plan_overtaken_by_a_change_says_so(site: Site, day: HarvestDay) -> None:
    declare(site, day, food="applesauce", pack="hot", jar="pint")
    job = plan(site, day)
    cancel_batch(batch=Batch.objects.get(food_id="applesauce"), actor=site.member)
    answer = signed_in(site.lead).post(address("publish", site, day, job), follow=True)
    assert "Plan the day again, then publish." in answer.content.decode()
    assert not Load.objects.exists()


def test_a_failed_attempt_is_told(site: Site, day: HarvestDay) -> None:
    lead = signed_in(site.lead)
    lead.post(address("plan", site, day))
    job = PlanJob.objects.get()
    cancel_batch(batch=Batch.objects.get(), actor=site.member)
    run_job(job.pk, clock=lambda: 0.0)
    assert "The last attempt to plan failed." in page(site.lead, site, day)


def test_a_member_says_when_they_can_help(site: Site) -> None:
    day = make_open_day(site, helpers=False)
    member = signed_in(site.member)
    member.post(address("help-out", site, day), {"starts": "09:00", "ends": "12:30"})
    there = Attendance.objects.get()
    assert (there.user, there.starts_at, there.ends_at) == (site.member, site.at(9), site.at(12, 30))
    for hours in ({"starts": "12:00", "ends": "09:00"}, {"starts": "noon", "ends": "13:00"}):
        told = member.post(address("help-out", site, day), hours, follow=True).content.decode()
        assert 'class="note error"' in told
    assert Attendance.objects.count() == 1


def test_a_lead_opens_changes_and_closes_a_day(site: Site) -> None:
    lead = signed_in(site.lead)
    there = reverse("harvest:open", args=[site.kitchen.slug])
    backwards = lead.post(there, {"date": "2026-09-12", "opens": "18:00", "closes": "08:00"})
    assert (backwards.status_code, HarvestDay.objects.count()) == (422, 0)
    assert "Set the closing after the opening." in backwards.content.decode()
    lead.post(there, {"date": "2026-09-12", "opens": "08:00", "closes": "18:00"})
    day = HarvestDay.objects.get()
    assert (day.opens_at, day.closes_at) == (site.at(8), site.at(18))
    twice = lead.post(there, {"date": "2026-09-12", "opens": "08:00", "closes": "18:00"})
    assert "Change that one instead." in twice.content.decode()
    lead.post(address("hours", site, day), {"starts": "07:30", "ends": "18:00"})
    day.refresh_from_db()
    assert day.opens_at == site.at(7, 30)
    lead.post(address("close", site, day))
    day.refresh_from_db()
    assert day.state == DayState.CLOSED
    assert "Bring food" not in page(site.lead, site, day)


def test_another_kitchens_day_is_not_found(site: Site, day: HarvestDay) -> None:
    job = plan(site, day)
    stranger = signed_in(make_site().lead)
    for name in ("day", "progress", "chart"):
        there = address(name, site, day, None if name == "day" else job)
        assert stranger.get(there).status_code == 404
    for name in ("plan", "help-out", "stop", "publish"):
        there = address(name, site, day, job if name in ("stop", "publish") else None)
        assert stranger.post(there).status_code == 404


def test_the_page_stays_light(site: Site, day: HarvestDay) -> None:
    """Twenty batches and a plan under 100 kB: the wireless network of a kitchen is weak."""
    for _ in range(19):
        declare(site, day)
    publish(site, day)
    assert len(page(site.lead, site, day).encode()) < 100_000


def test_a_plan_says_whose_times_follow_the_records(site: Site, day: HarvestDay) -> None:
    plan(site, day)
    assert "measured times</a>." not in page(site.lead, site, day)
    measure_canner(site, site.weighted, TimedKind.HEAT_UP, [1.3] * 5)
    plan(site, day)
    told = " ".join(page(site.lead, site, day).split())
    assert f"Times of {site.weighted.name} follow this kitchen's <a" in told
