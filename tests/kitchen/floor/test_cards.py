"""The live card of a canner: one load at hand, one next step, offered when it may come and no sooner."""

from __future__ import annotations

import re
from datetime import datetime, timedelta

import pytest
from django.db import connection
from django.test import Client
from django.test.utils import CaptureQueriesContext
from django.urls import reverse
from django.utils import timezone

from kitchen.floor.models import EventKind, RunEvent
from kitchen.floor.pages import canner_pages
from kitchen.floor.queries import newest_line
from kitchen.planning.models import Load, LoadPhase
from tests.factories.canner_runs import (
    BEAN_TAPS,
    BEANS_OUT,
    Run,
    make_applesauce_run,
    make_bean_run,
)
from tests.factories.sites import make_site
from tests.factories.walks import signed_in

pytestmark = pytest.mark.django_db

_BUTTON = re.compile(r'<button class="(go|alarm)"[^>]* value="(\w+)"')


class Clock:
    """The server's clock, put forward by hand."""

    def __init__(self, run: Run, monkeypatch: pytest.MonkeyPatch) -> None:
        self._run = run
        self.now: datetime = run.at(0)
        monkeypatch.setattr(timezone, "now", lambda: self.now)

    def to(self, minutes: float) -> None:
        self.now = self._run.at(minutes)


@pytest.fixture
def run() -> Run:
    return make_bean_run(make_site())


@pytest.fixture
def clock(run: Run, monkeypatch: pytest.MonkeyPatch) -> Clock:
    return Clock(run, monkeypatch)


@pytest.fixture
def operator(run: Run) -> Client:
    return signed_in(run.site.operator)


def address(run: Run, **query: object) -> str:
    names = [run.site.kitchen.slug, run.day.uuid, run.load.canner.uuid]
    return reverse("floor:run-sheet", args=names, query={key: str(value) for key, value in query.items()})


def page_of(client: Client, run: Run, **query: object) -> str:
    return client.get(address(run, **query)).content.decode()


def offered(page: str) -> dict[str, str]:
    """The large buttons of a page: the one to press next, and the mishap beside it."""
    found = _BUTTON.findall(page)
    assert len(found) == len(dict(found)), "more than one button of a kind"
    return dict(found)


def say(page: str) -> str:
    found = re.search(r'<p class="say">(.*?)</p>', page)
    assert found is not None
    return found.group(1)


def press(client: Client, run: Run, kind: str) -> str:
    name = "floor:jars-out" if kind == "jars_out" else "floor:step"
    to = reverse(name, args=[run.site.kitchen.slug, run.load.uuid])
    return client.post(to, {"kind": kind, "seen": newest_line(run.load)}, follow=True).content.decode()


def test_a_clean_load_takes_one_press_an_event(run: Run, clock: Clock, operator: Client) -> None:
    """The one large button is pressed each time it is there, and nothing else."""
    said, times = [], [minutes for _, minutes in BEAN_TAPS] + [BEANS_OUT]
    for minutes in times:
        clock.to(minutes)
        page = page_of(operator, run)
        said.append(say(page))
        press(operator, run, offered(page)["go"])
    assert said == [
        "Load the jars, then heat on",
        "Heat up until steam flows steadily",
        "Vented. Put the weight on",
        "Bring it to pressure",
        "Time is up. Heat off",
        "Let it come to zero pressure by itself",
        "Take the lid off",
        "Take the jars out",
    ]
    assert (run.fresh().state, run.fresh().deviation) == ("out", "")
    assert say(page_of(operator, run)) == "All loads are out"
    assert RunEvent.objects.filter(load=run.load).count() == len(times)


def test_in_boiling_water_too(clock: Clock) -> None:
    run = make_applesauce_run(make_site())
    client = signed_in(run.site.operator)
    for minutes in (5, 25, 45, 46, 50):
        clock.to(minutes)
        press(client, run, offered(page_of(client, run))["go"])
    assert (run.fresh().state, run.fresh().deviation) == ("out", "")


@pytest.mark.parametrize(
    ("steps", "until", "says", "then"),
    [
        (2, 27, "Let it vent", "weight_on"),
        (4, 57, "Hold the pressure", "heat_off"),
        (5, 77, "Leave it alone to cool", "zero_pressure"),
        (6, 112, "Weight off. The lid stays on", "lid_off"),
    ],
)
def test_what_would_come_too_early_is_not_offered(
    run: Run, clock: Clock, operator: Client, steps: int, until: int, says: str, then: str
) -> None:
    for kind, minutes in BEAN_TAPS[:steps]:
        run.tap(kind, minutes)
    clock.to(until - 1 / 60)
    page = page_of(operator, run)
    assert (say(page), offered(page).get("go")) == (says, None)
    ends = run.at(until)
    assert f'data-until="{int(ends.timestamp() * 1000)}"' in page
    assert f"until {ends.astimezone(run.site.kitchen.zone):%H:%M}, then: " in page
    clock.to(until)
    assert offered(page_of(operator, run))["go"] == then


def test_heat_off_before_its_time_can_be_told_and_holds(run: Run, clock: Clock, operator: Client) -> None:
    """Never the large button, but never kept from the record either (rules S6 and S16)."""
    for kind, minutes in BEAN_TAPS[:4]:
        run.tap(kind, minutes)
    clock.to(50)
    page = page_of(operator, run)
    assert offered(page) == {"alarm": "pressure_lost"}
    assert "“Heat off” before 09:57 is too early" in page
    assert "Record “Heat off”" in page
    page = press(operator, run, "heat_off")
    assert "<strong>On hold.</strong> Processed 18 of 25 minutes (rule S6)." in page


def test_a_lost_pressure_leads_back_to_pressure_and_to_the_full_time(
    run: Run, clock: Clock, operator: Client
) -> None:
    for kind, minutes in BEAN_TAPS[:4]:
        run.tap(kind, minutes)
    clock.to(50)
    page = press(operator, run, "pressure_lost")
    assert (say(page), offered(page)) == ("Pressure is lost. Bring it back", {"go": "at_pressure"})
    assert "the full time begins anew" in page
    clock.to(54)
    page = press(operator, run, "at_pressure")
    assert f'data-until="{int(run.at(54 + 25).timestamp() * 1000)}"' in page
    clock.to(57)
    assert "go" not in offered(page_of(operator, run))
    clock.to(79)
    assert offered(press(operator, run, "heat_off")) == {}
    assert run.fresh().deviation == ""


def test_a_stale_press_from_a_second_tablet_is_told_what_happened(
    run: Run, clock: Clock, operator: Client
) -> None:
    for kind, minutes in BEAN_TAPS[:4]:
        run.tap(kind, minutes)
    stale = newest_line(run.load)
    run.tap(EventKind.PRESSURE_LOST, 50)
    clock.to(57)
    to = reverse("floor:step", args=[run.site.kitchen.slug, run.load.uuid])
    page = operator.post(to, {"kind": "heat_off", "seen": stale}, follow=True).content.decode()
    assert "Meanwhile the record went on: “Pressure lost” at 09:50 by Operator Fenwick" in page
    assert offered(page) == {"go": "at_pressure"}


def test_the_page_says_what_became_of_a_press_without_an_answer(
    run: Run, clock: Clock, operator: Client
) -> None:
    run.tap(EventKind.LOADED, 5)
    clock.to(17)
    asked = {"pressed": "steady_steam", "of": run.load.uuid, "seen": newest_line(run.load)}
    assert "“Steady steam” is not recorded." in page_of(operator, run, **asked)
    press(operator, run, "steady_steam")
    assert "“Steady steam” is recorded: 09:17, by Operator Fenwick." in page_of(operator, run, **asked)
    for nonsense in ({"pressed": "x"}, {"of": "x"}, {"seen": "x"}, {"seen": "9" * 40}):
        assert "is recorded" not in page_of(operator, run, **{**asked, **nonsense})


def test_what_matters_is_told_at_its_moment(run: Run, clock: Clock, operator: Client) -> None:
    def card() -> str:
        return page_of(operator, run).split('id="live"')[1].split('id="sheets"')[0]

    loading = card()
    assert "Headspace 1 in." in loading
    assert "<strong>2 in to 3 in of hot water</strong>" in loading
    run.tap(EventKind.LOADED, 5)
    assert "Headspace" not in card()
    run.tap(EventKind.STEADY_STEAM, 17)
    run.tap(EventKind.WEIGHT_ON, 27)
    assert "<b>15 lb</b> on this gauge" in card()
    assert "jiggles or rocks" in card()
    run.tap(EventKind.AT_PRESSURE, 32)
    assert "<b>15 lb</b> on this gauge" in card()
    run.tap(EventKind.HEAT_OFF, 57)
    assert "15 lb" not in card()
    assert "Never force it" in card()


def test_a_dial_gauge_is_read_and_shows_what_its_check_asks_for(run: Run, operator: Client) -> None:
    """Off by 1 lb at the check, so 13 lb must show where the process needs 12 (rule S8)."""
    for kind, minutes in BEAN_TAPS[:3]:
        run.tap(kind, minutes)
    field = 'name="reading_psi"'
    assert field not in page_of(operator, run)
    Load.objects.filter(pk=run.load.pk).update(canner=run.site.dial, pressure_psi=12, target_reading_psi=13)
    run.load.canner = run.site.dial
    page = page_of(operator, run)
    assert "<b>13 lb</b> on this gauge <small>(12 lb, corrected for the gauge)</small>" in page
    assert field in page


def test_the_depth_of_water_has_its_source_or_says_that_there_is_none() -> None:
    run = make_applesauce_run(make_site())
    client = signed_in(run.site.operator)
    assert "Water at least <strong>1 in over the jars</strong> <small>(USDA AIB 539)" in page_of(client, run)
    run.load.process_minutes = 31
    run.load.save()
    assert "<strong>2 in over the jars</strong>" in page_of(client, run)
    run.load.canner = run.site.steamer
    run.load.save()
    assert "no published depth at hand" in page_of(client, run)


def more_loads(run: Run, many: int) -> list[Load]:
    """The same load again, so many times, one after the other in the same canner."""
    made = []
    for number in range(2, many + 2):
        load = run.fresh()
        phases, later = list(load.phases.all()), timedelta(hours=2 * number)
        load.pk, load.uuid, load.number = None, make_uuid(number), number
        load.lot_code, load.canner_time = f"{load.lot_code}-{number}", None
        load.save()
        for phase in phases:
            starts, ends = phase.starts_at + later, phase.ends_at + later
            LoadPhase.objects.create(load=load, kind=phase.kind, starts_at=starts, ends_at=ends)
        made.append(load)
    return made


def make_uuid(number: int) -> str:
    return f"00000000-0000-4000-8000-{number:012}"


def test_the_running_load_is_at_hand_then_the_next_or_the_one_chosen(run: Run, clock: Clock) -> None:
    second, third = more_loads(run, 2)

    def at_hand(chosen: Load | None = None) -> int | None:
        uuid = str(chosen.uuid) if chosen else ""
        (page,) = canner_pages(run.day, [run.load.canner], clock.now, chosen=uuid)
        return page.card.load.number if page.card else None

    assert (at_hand(), at_hand(third)) == (1, 3)
    run.tap(EventKind.LOADED, 5)
    assert (at_hand(), at_hand(third)) == (1, 1)
    run.take_out(100, "The tablet was flat")
    assert at_hand() == second.number == 2


def test_a_load_that_is_not_at_hand_is_folded_and_can_be_had_on_the_card(run: Run, operator: Client) -> None:
    (second,) = more_loads(run, 1)
    page = page_of(operator, run)
    assert page.count('<article class="load') == 2
    assert f'href="?load={second.uuid}"' in page
    assert '<details class="sheet-of-load" id="load-2">' in page


def test_jars_on_hold_are_not_folded_away(run: Run, operator: Client) -> None:
    more_loads(run, 1)
    run.take_out(100, "The tablet was flat")
    page = page_of(operator, run)
    assert '<details class="sheet-of-load" id="load-1" open>' in page
    assert '<strong class="held">on hold</strong>' in page


def test_all_canners_stand_on_one_screen_each_with_one_button(run: Run, clock: Clock) -> None:
    sauce = make_applesauce_run_on(run)
    client = signed_in(run.site.operator)
    to = reverse("floor:canners", args=[run.site.kitchen.slug, run.day.uuid])
    page = client.get(to).content.decode()
    assert page.count('<article class="now') == 2
    assert [kind for _, kind in _BUTTON.findall(page)] == ["loaded", "loaded"]
    clock.to(5)
    step = reverse("floor:step", args=[run.site.kitchen.slug, sauce.uuid])
    answer = client.post(step, {"kind": "loaded", "seen": 0, "back": "all"})
    assert answer["Location"] == f"{to}#now-B1"


def make_applesauce_run_on(run: Run) -> Load:
    """The bean load once more, as one of the boiling-water canner on the same day."""
    (load,) = more_loads(run, 1)
    load.canner, load.number = run.site.boiling, 1
    load.pressure_psi = load.target_reading_psi = None
    load.save()
    return load


def test_the_state_changes_with_the_record_the_hold_and_the_end_of_a_wait(run: Run, clock: Clock) -> None:
    """A page that looks again takes over what changed, and leaves alone what did not."""

    def state() -> int:
        return canner_pages(run.day, [run.load.canner], clock.now)[0].state

    seen = [state()]
    for kind, minutes in BEAN_TAPS[:4]:
        run.tap(kind, minutes)
        clock.to(minutes)
        seen.append(state())
    clock.to(56)
    assert state() == seen[-1]
    clock.to(57)
    seen.append(state())
    Load.objects.filter(pk=run.load.pk).update(on_hold=True, deviation="A jar broke")
    seen.append(state())
    assert len(set(seen)) == len(seen)


def test_a_look_gets_only_the_state_and_the_servers_time(run: Run, clock: Clock, operator: Client) -> None:
    clock.to(3)
    page = page_of(operator, run, live=1)
    assert f'data-now="{int(run.at(3).timestamp() * 1000)}"' in page
    assert len(page) < 300


def test_without_scripts_the_page_comes_again_when_the_wait_is_over(
    run: Run, clock: Clock, operator: Client
) -> None:
    for kind, minutes in BEAN_TAPS[:4]:
        run.tap(kind, minutes)
    clock.to(40)
    assert 'http-equiv="refresh" content="60"' in page_of(operator, run)
    clock.to(56.5)
    assert 'http-equiv="refresh" content="31"' in page_of(operator, run)


def test_one_load_and_many_take_as_many_queries(run: Run, clock: Clock, operator: Client) -> None:
    def queries() -> int:
        with CaptureQueriesContext(
            connection,
        ) as caught:
            page_of(operator, run)
        return len(caught)

    run.tap(EventKind.LOADED, 5)
    one = queries()
    loads = more_loads(run, 8)
    for load in loads:
        RunEvent.objects.create(load=load, kind="loaded", at=clock.now, recorded_by=run.site.operator)
    assert queries() == one


def test_a_wrong_line_gets_its_right_time_and_stays_readable(
    run: Run, clock: Clock, operator: Client
) -> None:
    line = run.tap(EventKind.LOADED, 5)
    clock.to(9)
    names = [run.site.kitchen.slug, run.load.uuid, line.pk]
    page = operator.get(reverse("floor:line", args=names)).content.decode()
    assert 'value="2026-09-12T09:05:00"' in page
    answer = operator.post(
        reverse("floor:correct", args=names),
        {"at": "2026-09-12T09:03:30", "note": "Tapped late"},
        follow=True,
    )
    page = answer.content.decode()
    assert "09:03 Loaded, heat on" in page
    assert "before that 09:05, by Operator Fenwick" in page
    right = RunEvent.objects.get(corrects=line)
    assert (right.at, right.note) == (run.at(3.5), "Tapped late")


def test_a_correction_without_a_reason_or_to_a_time_to_come_is_refused(
    run: Run, clock: Clock, operator: Client
) -> None:
    line = run.tap(EventKind.LOADED, 5)
    clock.to(9)
    to = reverse("floor:correct", args=[run.site.kitchen.slug, run.load.uuid, line.pk])
    for given, told in (
        ({"at": "2026-09-12T09:03"}, "say why the line was wrong"),
        ({"at": "2026-09-12T09:30", "note": "Tapped late"}, "still to come"),
    ):
        assert told in operator.post(to, given, follow=True).content.decode()
    assert RunEvent.objects.count() == 1


def test_a_line_taken_back_stays_readable(run: Run, clock: Clock, operator: Client) -> None:
    line = run.tap(EventKind.LOADED, 5)
    clock.to(6)
    names = [run.site.kitchen.slug, run.load.uuid, line.pk]
    assert "Take it back" in operator.get(reverse("floor:line", args=names)).content.decode()
    page = operator.post(
        reverse("floor:withdraw", args=names), {"note": "Wrong canner"}, follow=True
    ).content.decode()
    assert "<s>09:05 Loaded, heat on</s> <small>taken back by Operator Fenwick: Wrong canner" in page
    assert offered(page)["go"] == "loaded"
    assert "does not stand any more" in operator.get(reverse("floor:line", args=names)).content.decode()


def test_only_the_last_line_can_be_taken_back_and_a_loss_warns(run: Run, operator: Client) -> None:
    lines = [run.tap(kind, minutes) for kind, minutes in BEAN_TAPS[:4]]
    lines.append(run.tap(EventKind.PRESSURE_LOST, 40))
    pages = [
        operator.get(
            reverse("floor:line", args=[run.site.kitchen.slug, run.load.uuid, line.pk])
        ).content.decode()
        for line in lines
    ]
    assert ["Take it back" in page for page in pages] == [False, False, False, False, True]
    assert "the jars go on hold until a lead has decided" in pages[-1]
