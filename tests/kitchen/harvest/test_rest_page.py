"""The page on which a lead says what happened, and the difference that stands above the button to publish."""

from __future__ import annotations

from datetime import timedelta

import pytest
from django.test import Client
from django.urls import reverse
from django.utils import timezone

from kitchen.members.models import User
from kitchen.planning.models import HarvestDay, PlanJob
from kitchen.planning.running import run_job
from kitchen.rota.models import Attendance, Shift
from tests.factories.sites import Site, declare, make_open_day, make_site, publish

pytestmark = pytest.mark.django_db


@pytest.fixture
def site() -> Site:
    """A kitchen where it is about ten in the morning, whenever the test runs."""
    made = make_site()
    # The signs of these zones are those of POSIX: Etc/GMT+7 lies west of Greenwich.
    west = (timezone.now().hour - 10) % 24
    made.kitchen.time_zone = f"Etc/GMT+{west}" if west <= 12 else f"Etc/GMT-{24 - west}"
    made.kitchen.save()
    return made


@pytest.fixture
def day(site: Site) -> HarvestDay:
    """A published day that opened half an hour ago; nothing is in a canner yet."""
    opens = timezone.now() - timedelta(minutes=30)
    opened = make_open_day(site, day=opens.astimezone(site.kitchen.zone).date())
    HarvestDay.objects.filter(pk=opened.pk).update(opens_at=opens, closes_at=opens + timedelta(hours=12))
    opened.refresh_from_db()
    opened.attendances.update(starts_at=opened.opens_at, ends_at=opened.closes_at)
    declare(site, opened, jars=7)
    declare(site, opened, food="applesauce", pack="hot", jar="pint", jars=7, member=site.other)
    return publish(site, opened)


def signed_in(user: User) -> Client:
    client = Client()
    client.force_login(user)
    return client


def address(site: Site, day: HarvestDay, name: str = "rest") -> str:
    return reverse(f"harvest:{name}", args=[site.kitchen.slug, day.uuid])


def test_only_a_lead_finds_the_page(site: Site, day: HarvestDay) -> None:
    assert "Plan the rest again" in signed_in(site.lead).get(address(site, day, "day")).content.decode()
    assert "Plan the rest again" not in signed_in(site.member).get(address(site, day, "day")).content.decode()
    assert signed_in(site.lead).get(address(site, day)).status_code == 200
    assert signed_in(site.operator).post(address(site, day)).status_code == 403
    assert not PlanJob.objects.filter(follows__isnull=False).exists()


def test_half_an_answer_is_asked_for_again_and_changes_nothing(site: Site, day: HarvestDay) -> None:
    for given in (
        {"canner": site.boiling.pk},
        {"more": day.batches.all()[0].pk},
        {"late": day.batches.all()[0].pk},
    ):
        answer = signed_in(site.lead).post(address(site, day), given)
        assert answer.status_code == 422
        assert "Fill this in as well." in answer.content.decode()
    site.boiling.refresh_from_db()
    assert site.boiling.out_of_service_reason == ""
    assert not PlanJob.objects.filter(follows__isnull=False).exists()


def test_everything_that_happened_is_noted_and_a_plan_is_asked_for(site: Site, day: HarvestDay) -> None:
    sauce = day.batches.get(food_id="applesauce")
    beans = day.batches.get(food_id="snap_beans")
    gone = Shift.objects.filter(starts_at__gt=timezone.now(), station="fill")[0].user
    assert gone is not None
    later = timezone.now().astimezone(site.kitchen.zone) + timedelta(hours=1)
    given = {
        "canner": site.steamer.pk,
        "failure": "the lid is bent",
        "gone": gone.pk,
        "more": sauce.pk,
        "jars": "9",
        "late": beans.pk,
        "arrives": f"{later:%H:%M}",
    }
    answer = signed_in(site.lead).post(address(site, day), given)
    job = PlanJob.objects.get(follows__isnull=False)
    assert answer["Location"] == reverse("harvest:progress", args=[site.kitchen.slug, day.uuid, job.uuid])
    site.steamer.refresh_from_db()
    assert site.steamer.out_of_service_reason == "the lid is bent"
    sauce.refresh_from_db()
    beans.refresh_from_db()
    assert sauce.jars == 9
    assert beans.arrives_at == later.replace(second=0, microsecond=0)
    assert Attendance.objects.get(user=gone).ends_at <= timezone.now()
    assert run_job(job.pk, clock=lambda: 0.0)
    told = signed_in(site.lead).get(address(site, day, "day")).content.decode()
    assert "What this plan changes" in told
    assert f"{gone} has gone home" in told
    assert told.index("What this plan changes") < told.index("Publish this plan")


def test_what_cannot_be_noted_leaves_everything_as_it_was(site: Site, day: HarvestDay) -> None:
    Attendance.objects.filter(user=site.member).delete()
    earlier = (timezone.now() - timedelta(hours=3)).astimezone(site.kitchen.zone)
    given = {
        "canner": site.steamer.pk,
        "failure": "the lid is bent",
        "late": day.batches.get(food_id="snap_beans").pk,
        "arrives": f"{earlier:%H:%M}",
    }
    answer = signed_in(site.lead).post(address(site, day), given)
    assert answer.status_code == 422
    assert 'role="alert"' in answer.content.decode()
    site.steamer.refresh_from_db()
    assert site.steamer.out_of_service_reason == ""


def test_a_member_sees_no_difference_before_it_is_published(site: Site, day: HarvestDay) -> None:
    signed_in(site.lead).post(address(site, day), {})
    assert run_job(PlanJob.objects.get(follows__isnull=False).pk, clock=lambda: 0.0)
    assert "What this plan changes" in signed_in(site.lead).get(address(site, day, "day")).content.decode()
    assert (
        "What this plan changes" not in signed_in(site.member).get(address(site, day, "day")).content.decode()
    )


def test_what_would_place_jars_is_not_asked_about_the_rest_of_a_day(site: Site, day: HarvestDay) -> None:
    # What is left out can be asked about while the whole day can be planned otherwise.
    given = {"canner": site.weighted.pk, "failure": "the gasket blew"}
    signed_in(site.lead).post(address(site, day), given)
    assert run_job(PlanJob.objects.get(follows__isnull=False).pk, clock=lambda: 0.0)
    told = signed_in(site.lead).get(address(site, day, "day")).content.decode()
    assert "Left out" in told
    assert "Ask what would place it" not in told
