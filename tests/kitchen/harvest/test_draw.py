"""The pages of a rota drawn up again: choosing, the drawn rota, publishing it, and who may not."""

from __future__ import annotations

from datetime import timedelta
from html import unescape

import pytest
from django.core import mail
from django.test import Client
from django.urls import reverse
from django.utils import timezone

from kitchen.harvest import keeping_pages
from kitchen.harvest.keeping_pages import rota_difference
from kitchen.members.models import User
from kitchen.planning.models import HarvestDay, PlanJob
from kitchen.planning.running import run_job
from kitchen.reminders.sweeping import sweep_due
from kitchen.rota.actions import give_back, hand_over
from kitchen.rota.models import Shift
from scheduler.caution import CAUTION
from tests.factories.sites import Site, declare, make_open_day, make_site, publish
from tests.factories.walks import rows, signed_in

pytestmark = pytest.mark.django_db


@pytest.fixture
def site() -> Site:
    return make_site()


@pytest.fixture
def day(site: Site) -> HarvestDay:
    """Tomorrow, published."""
    tomorrow = timezone.now().astimezone(site.kitchen.zone).date() + timedelta(days=1)
    opened = make_open_day(site, day=tomorrow)
    declare(site, opened, jars=14)
    return publish(site, opened)


def page(day: HarvestDay, name: str = "draw", *more: object) -> str:
    return reverse(f"harvest:{name}", args=[day.kitchen.slug, day.uuid, *more])


def watch_of(day: HarvestDay) -> Shift:
    """The first watch; somebody has it."""
    return day.shifts.filter(task="watch", cancelled_at__isnull=True).order_by("starts_at", "pk")[0]


def other_trained(site: Site, watch: Shift) -> User:
    return next(one for one in (site.lead, site.operator) if one.pk != watch.user_id)


def text(client: Client, address: str) -> str:
    return unescape(client.get(address, follow=True).content.decode())


def drawn(lead: Client, day: HarvestDay, chosen: dict[str, object]) -> PlanJob:
    """Ask for the rota from the page, and have it drawn up in this process."""
    answer = lead.post(page(day), chosen)
    job = PlanJob.objects.exclude(around=None).latest("pk")
    assert answer.status_code == 302
    assert answer.headers["Location"] == page(day, "progress", job.uuid)
    run_job(job.pk, clock=lambda: 0.0)
    return job


def test_a_lead_chooses_reads_what_changes_and_publishes(site: Site, day: HarvestDay) -> None:
    lead, watch = signed_in(site.lead), watch_of(day)
    to = other_trained(site, watch)
    assert "Draw up the rota again around people you keep" in text(
        lead, reverse("rota:everybody", args=[day.kitchen.slug, day.uuid])
    )
    choosing = text(lead, page(day))
    assert f'<option value="{watch.user_id}">{watch.user} stays</option>' in choosing
    assert f'<option value="{to.pk}">{to}</option>' in choosing
    # Peelers are not offered the canner.
    seats = choosing.split(f'id="shift-{watch.pk}"')[1].split("</select>")[0]
    assert str(site.member) not in seats

    job = drawn(lead, day, {f"shift-{watch.pk}": to.pk})
    shown = text(lead, page(day, "progress", job.uuid))
    assert "The rota drawn up again" in shown
    assert "The judge checked every rule and found none broken." in shown
    assert f"<li>{to}: watch for load " in shown
    assert f"{to}: now watches " in shown
    assert "Spread of work: " in shown
    assert "Proven: with what is kept no rota is below" in shown
    assert "Publish this rota" in shown
    assert CAUTION in shown

    said = unescape(lead.post(page(day, "publish", job.uuid), follow=True).content.decode())
    assert "The plan is published." in said
    assert [one.user for one in standing(day, watch)] == [to]
    sweep_due(now=timezone.now() + timedelta(minutes=1))
    told = {message.to[0]: message.body for message in mail.outbox}
    assert watch.user is not None
    assert "No longer yours: Canner" in told[watch.user.email]
    assert "This rota was published." in text(lead, page(day, "drawn", job.uuid))


def standing(day: HarvestDay, like: Shift) -> list[Shift]:
    return list(day.shifts.filter(cancelled_at__isnull=True, task=like.task, load=like.load))


def test_what_cannot_be_kept_is_said_on_the_form_with_the_choices_still_there(
    site: Site, day: HarvestDay
) -> None:
    lead, watch = signed_in(site.lead), watch_of(day)
    fill = day.shifts.filter(task="fill").order_by("starts_at", "pk")[0]
    before = rows()
    answer = lead.post(
        page(day), {f"shift-{watch.pk}": site.member.pk, f"shift-{fill.pk}": str(fill.user_id)}
    )
    shown = unescape(answer.content.decode())
    assert answer.status_code == 422
    assert f"{site.member} cannot be kept at watch for load" in shown
    assert f'<option value="{fill.user_id}" selected>{fill.user} stays</option>' in shown
    assert rows() == before


def test_who_took_a_shift_by_hand_is_kept_unless_the_lead_chooses_otherwise(
    site: Site, day: HarvestDay
) -> None:
    lead, watch = signed_in(site.lead), watch_of(day)
    to = other_trained(site, watch)
    hand_over(shift=watch, to=to, actor=site.lead)
    shown = text(lead, page(day))
    assert f'<option value="{to.pk}" selected>{to} stays</option>' in shown
    assert "changed by hand" in shown
    assert shown.count(" selected>") == 1


def test_from_a_shift_its_person_is_chosen_and_its_station_open(site: Site, day: HarvestDay) -> None:
    lead, watch = signed_in(site.lead), watch_of(day)
    shift = text(lead, reverse("rota:shift", args=[day.kitchen.slug, watch.uuid]))
    address = f"{page(day)}?shift={watch.uuid}"
    assert f'href="{address}#shift-{watch.pk}">Keep {watch.user} here and draw the rota up again' in shift
    shown = text(lead, address)
    assert f'<option value="{watch.user_id}" selected>{watch.user} stays</option>' in shown
    assert (shown.count("<details open>"), shown.count(" selected>")) == (1, 1)
    assert watch.user is not None
    give_back(shift=watch, actor=watch.user)
    shown = text(lead, address)
    assert (shown.count("<details open>"), shown.count(" selected>")) == (1, 0)


def test_the_choices_come_back_to_be_changed_and_after_publishing(site: Site, day: HarvestDay) -> None:
    lead, watch = signed_in(site.lead), watch_of(day)
    to = other_trained(site, watch)
    job = drawn(lead, day, {f"shift-{watch.pk}": to.pk, "change": "few"})
    assert len(rota_difference(PlanJob.objects.get(pk=job.pk)).people) == 2  # The two who change places.
    again = text(lead, f"{page(day)}?again={job.uuid}")
    assert '<option value="few" selected>' in again
    assert f'<option value="{to.pk}" selected>{to}</option>' in again
    assert " selected>" not in text(lead, f"{page(day)}?again=no-job")
    lead.post(page(day, "publish", job.uuid))
    assert f'<option value="{to.pk}" selected>{to} stays</option>' in text(lead, page(day))


def test_a_rota_that_nobody_can_fill_says_where_and_when(site: Site, day: HarvestDay) -> None:
    lead = signed_in(site.lead)
    day.attendances.exclude(user=site.lead).delete()
    job = drawn(lead, day, {})
    shown = text(lead, page(day, "progress", job.uuid))
    assert "No rota could be drawn up" in shown
    assert "Nobody was found for " in shown
    assert "Publish this rota" not in shown
    assert "Change who is kept" in shown


def test_a_rota_made_old_by_a_shift_given_back_is_not_offered(site: Site, day: HarvestDay) -> None:
    lead, watch = signed_in(site.lead), watch_of(day)
    job = drawn(lead, day, {})
    assert watch.user is not None
    give_back(shift=watch, actor=watch.user)
    shown = text(lead, page(day, "drawn", job.uuid))
    assert "A shift changed hands after this rota was drawn up." in shown
    assert "Publish this rota" not in shown


@pytest.mark.parametrize("who", ["member", "operator"])
def test_only_a_lead_finds_these_pages(site: Site, day: HarvestDay, who: str) -> None:
    job = drawn(signed_in(site.lead), day, {})
    client, before = signed_in(getattr(site, who)), rows()
    for address in (page(day), page(day, "drawn", job.uuid)):
        assert client.get(address).status_code == 403
    assert client.post(page(day)).status_code == 403
    assert rows() == before
    everybody = text(client, reverse("rota:everybody", args=[day.kitchen.slug, day.uuid]))
    assert "Draw up the rota again" not in everybody


def test_a_plan_of_loads_has_no_such_page_and_a_day_without_plan_leads_back(
    site: Site, day: HarvestDay
) -> None:
    lead = signed_in(site.lead)
    job = PlanJob.objects.get(harvest_day=day)
    assert lead.get(page(day, "drawn", job.uuid)).status_code == 404
    bare = make_open_day(site, day=day.date + timedelta(days=1))
    assert "there is no rota yet" in text(lead, page(bare))


def test_on_a_large_day_stations_are_opened_one_by_one_and_choices_stay(
    site: Site, day: HarvestDay, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr(keeping_pages, "AT_ONCE", 0)
    lead, watch = signed_in(site.lead), watch_of(day)
    to, fill = other_trained(site, watch), day.shifts.filter(task="fill").order_by("starts_at", "pk")[0]
    closed = text(lead, page(day))
    assert "<select id=shift" not in closed.replace('"', "")
    assert (
        f'name="show" value="canner">Canner: {day.shifts.filter(station="canner").count()} shifts</' in closed
    )

    before = rows()
    opened = lead.post(page(day), {"show": "canner"})
    shown = unescape(opened.content.decode())
    assert opened.status_code == 200
    assert f'<option value="{watch.user_id}">{watch.user} stays</option>' in shown
    assert f'id="shift-{fill.pk}"' not in shown
    assert 'name="show-again" value="canner"' in shown

    both = lead.post(page(day), {"show": "fill", "show-again": "canner", f"shift-{watch.pk}": to.pk})
    shown = unescape(both.content.decode())
    assert f'<option value="{to.pk}" selected>{to}</option>' in shown
    assert f'id="shift-{fill.pk}"' in shown
    assert rows() == before
    # A shift that is looked at, or somebody is chosen for, is never behind a closed station.
    assert f'id="shift-{watch.pk}"' in text(lead, f"{page(day)}?shift={watch.uuid}")


def test_a_name_is_shown_as_it_is_written(site: Site, day: HarvestDay) -> None:
    User.objects.filter(pk=site.operator.pk).update(display_name="<script>Op")
    shown = signed_in(site.lead).get(page(day)).content.decode()
    assert "&lt;script&gt;Op</option>" in shown
    assert "<script>Op" not in shown
