"""The run sheet's pages: what stands there, what may be tapped, and who may tap it."""

from __future__ import annotations

import pytest
from django.test import Client
from django.urls import reverse

from kitchen.floor.models import EventKind, RunEvent
from kitchen.floor.queries import newest_line
from kitchen.members.models import User
from kitchen.planning.models import LoadState
from kitchen.reminders.models import Reminder
from scheduler.caution import CAUTION
from tests.factories.canner_runs import BEAN_TAPS, BEANS_OUT, Run, make_applesauce_run, make_bean_run
from tests.factories.sites import make_site

pytestmark = pytest.mark.django_db


@pytest.fixture
def run() -> Run:
    return make_bean_run(make_site())


def signed_in(user: User) -> Client:
    client = Client()
    client.force_login(user)
    return client


def sheet(run: Run) -> str:
    return reverse("floor:run-sheet", args=[run.site.kitchen.slug, run.day.uuid, run.load.canner.uuid])


def address(name: str, run: Run, *more: int) -> str:
    return reverse(f"floor:{name}", args=[run.site.kitchen.slug, run.load.uuid, *more])


def local(run: Run, minutes: float) -> str:
    """A time as the browser's field sends it: the kitchen's own, without a zone."""
    return f"{run.at(minutes).astimezone(run.site.kitchen.zone):%Y-%m-%dT%H:%M}"


def press(client: Client, run: Run, name: str, given: dict[str, object]) -> str:
    """What a press on a page shown just now is answered with."""
    data = {"seen": newest_line(run.load), **given}
    return client.post(address(name, run), data, follow=True).content.decode()


def told(client: Client, run: Run) -> str:
    return client.get(sheet(run)).content.decode()


def test_the_sheet_says_what_the_canner_needs(run: Run) -> None:
    page = told(signed_in(run.site.operator), run)
    assert "<b>15 lb</b> on this gauge" in page
    assert "<b>25 min</b>" in page
    assert "Headspace 1 in." in page
    assert "start the full time again" in page
    assert "Loaded, heat on" in page
    assert CAUTION in page.replace("&#x27;", "'")


def test_a_member_reads_the_sheet_and_cannot_write_in_it(run: Run) -> None:
    client = signed_in(run.site.member)
    assert "<form" not in told(client, run).split("<main", 1)[1]
    page = press(client, run, "step", {"kind": EventKind.LOADED})
    assert "may not write in the process record" in page
    assert not RunEvent.objects.exists()


def test_another_kitchens_sheet_is_not_found(run: Run) -> None:
    stranger = signed_in(make_site().lead)
    assert stranger.get(sheet(run)).status_code == 404
    assert stranger.post(address("step", run), {"kind": EventKind.LOADED}).status_code == 404
    assert stranger.post(address("jars-out", run), {}).status_code == 404
    assert not RunEvent.objects.exists()


def test_a_load_of_another_kitchen_is_not_found_under_ones_own(run: Run) -> None:
    other = make_site()
    own_slug = reverse("floor:step", args=[other.kitchen.slug, run.load.uuid])
    assert signed_in(other.operator).post(own_slug, {"kind": EventKind.LOADED}).status_code == 404
    assert not RunEvent.objects.exists()


def test_the_whole_cycle_is_tapped_and_the_times_are_the_kitchens(run: Run) -> None:
    client = signed_in(run.site.operator)
    for kind, minutes in BEAN_TAPS:
        assert f'value="{kind.value}"' in told(client, run)
        press(client, run, "step", {"kind": kind, "at": local(run, minutes)})
    press(client, run, "jars-out", {"at": local(run, BEANS_OUT)})
    load = run.fresh()
    assert (load.state, load.jars_out_at, load.deviation) == (LoadState.OUT, run.at(BEANS_OUT), "")
    assert Reminder.objects.filter(portion=run.portion).count() == 2
    assert f"{run.at(BEANS_OUT).astimezone(run.site.kitchen.zone):%H:%M}</td>" in told(client, run)


def test_a_step_out_of_order_is_refused_with_what_is_expected(run: Run) -> None:
    client = signed_in(run.site.operator)
    page = press(client, run, "step", {"kind": EventKind.HEAT_OFF, "at": local(run, 57)})
    assert "Expected: loaded, heat on." in page
    assert not RunEvent.objects.exists()


def test_an_unreadable_time_changes_nothing(run: Run) -> None:
    client = signed_in(run.site.operator)
    page = press(client, run, "step", {"kind": EventKind.LOADED, "at": "half past nine"})
    assert "could not be read" in page
    assert not RunEvent.objects.exists()


def test_jars_out_too_early_is_refused_until_told_and_then_on_hold() -> None:
    run = make_applesauce_run(make_site())
    client = signed_in(run.site.operator)
    for kind, minutes in ((EventKind.LOADED, 5), (EventKind.FULL_BOIL, 25), (EventKind.HEAT_OFF, 45)):
        run.tap(kind, minutes)
    early = {"at": local(run, 46)}
    assert "rules S4 and S5" in press(client, run, "jars-out", dict(early))
    assert run.fresh().jars_out_at is None
    press(client, run, "jars-out", {**early, "deviation": "the rack tipped"})
    assert run.fresh().on_hold
    page = told(client, run)
    assert "On hold." in page
    assert "the rack tipped" in page


def test_a_line_is_taken_back_with_a_reason(run: Run) -> None:
    event = run.tap(EventKind.LOADED, 5)
    client = signed_in(run.site.operator)
    client.post(address("withdraw", run, event.pk), {"note": ""})
    assert not RunEvent.objects.filter(withdraws=True).exists()
    client.post(address("withdraw", run, event.pk), {"note": "wrong canner"})
    assert RunEvent.objects.get(withdraws=True).corrects == event


def test_only_a_lead_decides_about_jars_on_hold() -> None:
    run = make_applesauce_run(make_site())
    run.take_out(55, deviation="nobody wrote anything down")
    decision = {"outcome": "discarded", "reason": "no record"}
    answer = signed_in(run.site.operator).post(address("hold", run), decision, follow=True)
    assert "may not decide about jars on hold" in answer.content.decode()
    assert run.fresh().on_hold
    signed_in(run.site.lead).post(address("hold", run), {**decision, "reason": ""})
    assert run.fresh().on_hold
    signed_in(run.site.lead).post(address("hold", run), decision)
    assert (run.fresh().on_hold, run.fresh().discarded) == (False, True)
    assert "Thrown out." in told(signed_in(run.site.member), run)
