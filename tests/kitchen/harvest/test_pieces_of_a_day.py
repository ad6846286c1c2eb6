"""What a harvest day's page keeps is never an old day, another's page or another reader's words."""

from __future__ import annotations

from datetime import timedelta
from html import unescape

import pytest
from django.test import Client, override_settings
from django.urls import reverse
from django.utils import timezone

from kitchen.batches.models import Batch
from kitchen.configuration.broker import caches as cache_settings
from kitchen.members.models import User
from kitchen.planning import running
from kitchen.planning.actions import request_plan
from kitchen.planning.models import HarvestDay
from kitchen.planning.running import run_job
from kitchen.rota.actions import give_back
from kitchen.rota.models import Attendance, Shift
from tests.factories.sites import Site, declare, make_open_day, make_site, publish
from tests.factories.walks import signed_in

pytestmark = pytest.mark.django_db


@pytest.fixture
def site() -> Site:
    return make_site()


@pytest.fixture
def day(site: Site) -> HarvestDay:
    tomorrow = timezone.now().astimezone(site.kitchen.zone).date() + timedelta(days=1)
    opened = make_open_day(site, day=tomorrow)
    declare(site, opened, jars=14)
    return publish(site, opened)


def read(client: Client, day: HarvestDay, name: str = "harvest:day") -> str:
    answer = client.get(reverse(name, args=[day.kitchen.slug, day.uuid]))
    assert answer.status_code == 200
    return unescape(answer.content.decode())


def test_what_changed_shows_at_once(site: Site, day: HarvestDay) -> None:
    lead = signed_in(site.lead)
    before, rota = read(lead, day), read(lead, day, "rota:everybody")
    held = day.shifts.filter(cancelled_at__isnull=True, user__isnull=False).order_by("starts_at", "pk")[0]
    assert held.user is not None
    give_back(shift=held, actor=held.user)
    Batch.objects.filter(harvest_day=day).update(jars=13)
    one = Attendance.objects.filter(harvest_day=day).order_by("pk")[0]
    Attendance.objects.filter(pk=one.pk).update(ends_at=one.ends_at - timedelta(minutes=7))
    after = read(lead, day)
    assert "<strong>14 " in before.split('id="brought"')[1]
    assert "<strong>13 " in after.split('id="brought"')[1]
    assert "<strong>14 " not in after.split('id="brought"')[1]
    ends = (one.ends_at - timedelta(minutes=7)).astimezone(site.kitchen.zone)
    assert f"to {ends:%H:%M}" in after.split('id="people"')[1]
    assert read(lead, day, "rota:everybody").count('class="vacancy"') > rota.count('class="vacancy"')
    User.objects.filter(pk=one.user_id).update(display_name="Renamed <Person>")
    assert "Renamed <Person>" in read(lead, day).split('id="people"')[1]


def test_another_plan_is_another_picture(
    site: Site, day: HarvestDay, monkeypatch: pytest.MonkeyPatch
) -> None:
    # The proof gives signs of life as well, in its own thread, which cannot reach a test's transaction.
    monkeypatch.setattr(running, "keep_alive", lambda **_: True)
    lead, member = signed_in(site.lead), signed_in(site.member)
    published = read(member, day)
    declare(site, day, jars=7)
    job = request_plan(harvest_day=day, actor=site.lead)
    run_job(job.pk, clock=lambda: 0.0)
    assert "14 of 14 jars" in published
    shown = read(lead, day)
    assert "21 of 21 jars" in shown
    assert "What this plan changes" in shown
    # Who is no lead goes on reading what is published.
    assert "14 of 14 jars" in read(member, day)
    assert "What this plan changes" not in read(member, day)


def test_everybody_reads_their_own_buttons_words_and_units(site: Site, day: HarvestDay) -> None:
    lead, member = signed_in(site.lead), signed_in(site.member)
    for _ in range(2):
        assert read(lead, day).count('formaction="') == Attendance.objects.filter(harvest_day=day).count()
        assert (
            read(member, day).count('formaction="') == site.member.attendances.filter(harvest_day=day).count()
        )
        assert "/shifts/" in read(lead, day, "rota:everybody")
        assert f"Change {site.member}" not in read(member, day, "rota:everybody")
    User.objects.filter(pk=site.member.pk).update(language="es")
    assert "Quién ayuda" in read(member, day)
    assert "as a table" not in read(member, day)
    assert "as a table" in read(lead, day)


@override_settings(CACHES=cache_settings("redis://127.0.0.1:1/0"))  # Where nobody answers.
def test_without_the_cache_the_pages_are_whole(site: Site, day: HarvestDay) -> None:
    lead = signed_in(site.lead)
    assert "Canners as a table" in read(lead, day)
    assert "Shift by shift" in read(lead, day, "rota:everybody")
    assert Shift.objects.filter(harvest_day=day).exists()
