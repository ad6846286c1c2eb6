"""The harvest day's addresses: who finds them, who may plan, and how many queries the day takes."""

from __future__ import annotations

from html import escape

import pytest
from django.db import connection
from django.test import Client
from django.test.utils import CaptureQueriesContext
from django.urls import reverse

from kitchen.harvest import urls
from kitchen.members.models import User
from kitchen.planning.actions import request_plan
from kitchen.planning.models import DayState, HarvestDay, JobState, PlanJob
from scheduler.caution import CAUTION
from tests.factories.sites import Site, declare, make_open_day, make_site, plan, publish
from tests.factories.walks import addresses, answers, rows, signed_in

pytestmark = pytest.mark.django_db

NAMES = [str(one.name) for one in urls.urlpatterns]
OF_THE_LEAD = [name for name in NAMES if name not in {"day", "help-out", "take-back"}]
OF_A_DAY = [name for name in NAMES if name != "open"]
READ = {"progress", "chart", "what-if", "drawn"}
WORDS = {"publish": "publish a plan", "draw": "draw up the rota again", "drawn": "draw up the rota again"}


@pytest.fixture
def site() -> Site:
    return make_site()


@pytest.fixture
def day(site: Site) -> HarvestDay:
    opened = make_open_day(site)
    declare(site, opened)
    return opened


def pages(day: HarvestDay, job: PlanJob, *, slug: str = "") -> dict[str, str]:
    """Every address of the day, of this job and of the lead's hours, under its kitchen's name or another's."""
    hours = day.attendances.order_by("pk").values_list("pk", flat=True)[0]
    values = {"kitchen": slug or day.kitchen.slug, "day": day.uuid, "job": job.uuid, "hours": hours}
    return addresses("harvest", urls.urlpatterns, values)


def job_for(name: str, site: Site, day: HarvestDay) -> PlanJob:
    """The job with which the deed would succeed: a plan to publish, or a job that waits; done again else."""
    if name in {"progress", "stop"}:
        return request_plan(harvest_day=day, actor=site.lead)
    return plan(site, day)


@pytest.mark.parametrize(
    ("name", "own_slug"),
    [*((name, False) for name in NAMES), *((name, True) for name in OF_A_DAY)],
)
def test_another_kitchen_is_not_found(site: Site, day: HarvestDay, name: str, own_slug: bool) -> None:
    elsewhere = make_site()
    job = job_for(name, site, day)
    address = pages(day, job, slug=elsewhere.kitchen.slug if own_slug else "")[name]
    stranger = signed_in(elsewhere.lead)
    before = rows()
    assert answers(stranger, address) == {404}
    assert rows() == before


def test_a_job_of_another_day_is_not_found(site: Site, day: HarvestDay) -> None:
    job = plan(site, day)
    elsewhere = make_site()
    own_day = make_open_day(elsewhere)
    lead = signed_in(elsewhere.lead)
    before = rows()
    for name in ("progress", "chart", "stop", "publish", "drawn"):
        assert answers(lead, pages(own_day, job)[name]) == {404}
    assert rows() == before


@pytest.mark.parametrize("name", NAMES)
def test_nobody_gets_in_unsigned(site: Site, day: HarvestDay, name: str) -> None:
    address = pages(day, job_for(name, site, day))[name]
    before = rows()
    for answer in (Client().get(address), Client().post(address)):
        assert (answer.status_code, answer["Location"]) == (302, f"/sign-in/?next={address}")
    assert rows() == before


@pytest.mark.parametrize("role", ["member", "operator"])
@pytest.mark.parametrize("name", OF_THE_LEAD)
def test_only_a_lead_plans_and_publishes(site: Site, day: HarvestDay, name: str, role: str) -> None:
    user: User = getattr(site, role)
    client, address = signed_in(user), pages(day, job_for(name, site, day))[name]
    before = rows()
    answer = client.get(address) if name in READ else client.post(address, follow=True)
    assert f"{user} may not {WORDS.get(name, 'plan a harvest day')}" in answer.content.decode()
    assert name not in READ or answer.status_code == 403
    assert rows() == before


def test_a_plan_that_is_not_published_is_for_the_lead_alone(site: Site, day: HarvestDay) -> None:
    address = pages(day, plan(site, day))["day"]
    assert "not published yet" in signed_in(site.lead).get(address).content.decode()
    page = signed_in(site.member).get(address).content.decode()
    assert "<svg" not in page
    assert "Publish this plan" not in page


def test_a_lead_plans_stops_and_publishes(site: Site, day: HarvestDay) -> None:
    lead = signed_in(site.lead)
    asked = lead.post(reverse("harvest:plan", args=[site.kitchen.slug, day.uuid]))
    job = PlanJob.objects.get()
    assert asked["Location"] == pages(day, job)["progress"]
    assert lead.get(asked["Location"]).status_code == 200
    lead.post(pages(day, job)["stop"])
    job.refresh_from_db()
    assert job.state == JobState.STOPPED
    assert lead.get(pages(day, job)["progress"])["Location"] == pages(day, job)["day"]
    lead.post(pages(day, plan(site, day))["publish"])
    day.refresh_from_db()
    assert day.state == DayState.PUBLISHED


def test_the_caution_stands_on_the_day_and_while_it_is_planned(site: Site, day: HarvestDay) -> None:
    lead = signed_in(site.lead)
    bare = lead.get(reverse("harvest:day", args=[site.kitchen.slug, day.uuid]))
    found = pages(day, plan(site, day))
    planned = lead.get(found["day"])
    progress = lead.get(pages(day, request_plan(harvest_day=day, actor=site.lead))["progress"])
    for answer in (bare, planned, progress):
        assert escape(CAUTION) in answer.content.decode()


def queries(user: User, address: str) -> int:
    client = signed_in(user)
    client.get(address)
    with CaptureQueriesContext(connection) as captured:
        assert client.get(address).status_code == 200
    return len(captured)


@pytest.mark.parametrize("role", ["lead", "member"])
@pytest.mark.parametrize("state", ["declared", "planned", "published"])
def test_five_batches_take_no_more_queries_than_one(role: str, state: str) -> None:
    counts = []
    for batches in (1, 5):
        site = make_site()
        opened = make_open_day(site)
        for number in range(batches):
            declare(site, opened, member=(site.member, site.other)[number % 2])
        if state != "declared":
            (plan if state == "planned" else publish)(site, opened)
        counts.append(
            queries(getattr(site, role), reverse("harvest:day", args=[site.kitchen.slug, opened.uuid]))
        )
    assert counts[0] == counts[1]
