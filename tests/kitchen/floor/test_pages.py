"""The run sheet's addresses: who finds them, who may write, and what is refused without a trace."""

from __future__ import annotations

from datetime import datetime
from html import escape

import pytest
from django.test import Client
from django.urls import reverse
from django.utils import timezone

from kitchen.floor import urls
from kitchen.floor.models import EventKind, RunEvent
from kitchen.floor.queries import newest_line
from scheduler.caution import CAUTION
from tests.factories.canner_runs import BEAN_TAPS, BEANS_OUT, Run, make_bean_run
from tests.factories.sites import Site, make_site
from tests.factories.walks import addresses, answers, rows, signed_in

pytestmark = pytest.mark.django_db

NAMES = [str(one.name) for one in urls.urlpatterns if one.name != "offline"]
"""Every address but that of the service worker, which holds nothing of anybody."""
NOBODY = "00000000-0000-4000-8000-000000000000"
READING = {"canners", "run-sheet", "line"}
WRITING = {
    "step": {"kind": "steady_steam"},
    "hand-over": {"to": NOBODY, "note": "Tired"},
    "jars-out": {"deviation": "The tablet was flat"},
    "correct": {"at": "2026-09-12T09:04", "note": "Tapped late"},
    "withdraw": {"note": "Wrong canner"},
    "hold": {"outcome": "released", "reason": "All was well"},
}


@pytest.fixture
def site() -> Site:
    return make_site()


@pytest.fixture
def run(site: Site, monkeypatch: pytest.MonkeyPatch) -> Run:
    """A bean run that was loaded a minute ago; the clock stands still."""
    run = make_bean_run(site)
    run.tap(EventKind.LOADED, 5)
    stand_still(monkeypatch, run.at(6))
    return run


def stand_still(monkeypatch: pytest.MonkeyPatch, at: datetime) -> None:
    monkeypatch.setattr(timezone, "now", lambda: at)


def post(client: Client, run: Run, name: str, given: dict[str, str]) -> str:
    """What a press on a page shown just now is answered with."""
    seen = str(newest_line(run.load))
    return client.post(pages(run)[name], {**given, "seen": seen}, follow=True).content.decode()


def pages(run: Run, *, slug: str = "") -> dict[str, str]:
    """Every address of the run, under its kitchen's name or another's."""
    values = {
        "kitchen": slug or run.site.kitchen.slug,
        "day": run.day.uuid,
        "canner": run.load.canner.uuid,
        "load": run.load.uuid,
        "line": RunEvent.objects.filter(load=run.load)[0].pk,
    }
    return addresses("floor", urls.urlpatterns, values)


def local(run: Run, minutes: float) -> str:
    """A time as the browser's field sends it: the kitchen's own, without a zone."""
    return f"{run.at(minutes).astimezone(run.site.kitchen.zone):%Y-%m-%dT%H:%M}"


def test_the_table_of_writing_addresses_is_whole() -> None:
    assert {*WRITING, *READING} == set(NAMES)


@pytest.mark.parametrize("name", NAMES)
@pytest.mark.parametrize("own_slug", [False, True], ids=["their kitchen", "own kitchen"])
def test_another_kitchen_is_not_found(run: Run, name: str, own_slug: bool) -> None:
    elsewhere = make_site()
    address = pages(run, slug=elsewhere.kitchen.slug if own_slug else "")[name]
    stranger = signed_in(elsewhere.lead)
    before = rows()
    assert answers(stranger, address) == {404}
    assert stranger.post(address, WRITING.get(name)).status_code in {404, 405}
    assert rows() == before


@pytest.mark.parametrize("name", NAMES)
def test_nobody_gets_in_unsigned(run: Run, name: str) -> None:
    address = pages(run)[name]
    before = rows()
    for answer in (Client().get(address), Client().post(address, WRITING.get(name))):
        assert (answer.status_code, answer["Location"]) == (302, f"/sign-in/?next={address}")
    assert rows() == before


@pytest.mark.parametrize("name", WRITING)
def test_a_member_reads_and_does_not_write(run: Run, name: str) -> None:
    client, found = signed_in(run.site.member), pages(run)
    if name == "hold":
        run.take_out(6, "The tablet was flat")
    before = rows()
    assert [client.get(found[page]).status_code for page in sorted(READING)] == [200, 200, 200]
    given = {
        key: str(run.site.lead.uuid) if value == NOBODY else value for key, value in WRITING[name].items()
    }
    assert "may not" in post(client, run, name, given)
    assert rows() == before


def test_the_worker_that_keeps_copies_is_for_everybody() -> None:
    answer = Client().get(reverse("floor:offline"))
    assert (answer.status_code, answer["Content-Type"], answer["Cache-Control"]) == (
        200,
        "text/javascript",
        "no-cache",
    )


@pytest.mark.parametrize("kind", sorted(set(EventKind) - {EventKind.STEADY_STEAM, EventKind.HAND_OVER}))
def test_a_step_out_of_order_is_refused(run: Run, kind: EventKind) -> None:
    client = signed_in(run.site.operator)
    before = rows()
    page = post(client, run, "step", {"kind": kind.value})
    assert "Expected: steady steam" in page or (kind is EventKind.JARS_OUT and "its own button" in page)
    assert rows() == before


def test_the_expected_step_is_written(run: Run) -> None:
    page = post(signed_in(run.site.operator), run, "step", {"kind": "steady_steam"})
    assert "Recorded: Steady steam." in page
    assert list(RunEvent.objects.order_by("pk").values_list("kind", "at")) == [
        (EventKind.LOADED, run.at(5)),
        (EventKind.STEADY_STEAM, run.at(6)),
    ]


@pytest.mark.parametrize("name", ["step", "jars-out"])
def test_a_time_to_come_is_refused(run: Run, name: str) -> None:
    client, given = signed_in(run.site.operator), {**WRITING[name], "at": local(run, 9)}
    before = rows()
    assert "This time is still to come." in post(client, run, name, given)
    assert rows() == before


@pytest.mark.parametrize("shown", ["2026-11-01T01:30", "2027-03-14T02:30"], ids=["twice", "never"])
@pytest.mark.parametrize("name", ["step", "jars-out"])
def test_a_time_that_the_clock_showed_twice_or_never_is_refused(run: Run, name: str, shown: str) -> None:
    """Taken for the first of two hours, a process would look an hour longer than it was (rule S6)."""
    client, before = signed_in(run.site.operator), rows()
    page = post(client, run, name, {**WRITING[name], "at": shown})
    assert "that hour came twice, or not at all" in page
    assert rows() == before


@pytest.mark.parametrize(
    "given",
    [
        {"kind": "no such step"},
        {},
        {"kind": "steady_steam", "at": "half past nine"},
        {"kind": "steady_steam", "reading_psi": "NaN"},
        {"kind": "steady_steam", "reading_psi": "fifteen"},
        {"kind": "steady_steam", "reading_psi": "31"},
    ],
)
def test_what_cannot_be_read_is_refused(run: Run, given: dict[str, str]) -> None:
    client = signed_in(run.site.operator)
    before = rows()
    assert "could not be read" in post(client, run, "step", given)
    assert rows() == before


@pytest.mark.parametrize("seen", ["", "-1", "newest", "1e9"])
@pytest.mark.parametrize("name", ["step", "jars-out"])
def test_a_press_that_does_not_say_what_it_was_shown_for_is_refused(run: Run, name: str, seen: str) -> None:
    client = signed_in(run.site.operator)
    before = rows()
    page = client.post(pages(run)[name], {**WRITING[name], "seen": seen}, follow=True).content.decode()
    assert "could not be read" in page
    assert rows() == before


def test_jars_out_a_minute_early_is_refused_and_on_time_is_not(
    run: Run, monkeypatch: pytest.MonkeyPatch
) -> None:
    """Heat off at 57, cool-down 45, rest 10: not before 112, though the lid is off at 111."""
    for kind, minutes in BEAN_TAPS[1:-2]:
        run.tap(kind, minutes)
    run.tap(EventKind.ZERO_PRESSURE, 101)
    run.tap(EventKind.LID_OFF, 111)
    stand_still(monkeypatch, run.at(BEANS_OUT))
    client = signed_in(run.site.operator)
    before = rows()
    page = post(client, run, "jars-out", {"at": local(run, 111)})
    assert "10:52" in page.split("<main", 1)[1].split("<h1", 1)[0]
    assert rows() == before
    post(client, run, "jars-out", {"at": local(run, 112)})
    assert (run.fresh().jars_out_at, run.fresh().on_hold) == (run.at(112), False)


def test_the_caution_stands_on_the_sheet_with_and_without_loads(run: Run) -> None:
    client = signed_in(run.site.member)
    empty = reverse("floor:run-sheet", args=[run.site.kitchen.slug, run.day.uuid, run.site.dial.uuid])
    for address in (pages(run)["run-sheet"], empty):
        assert escape(CAUTION) in client.get(address).content.decode()
