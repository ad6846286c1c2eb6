"""The watch at a canner changes hands, between the steps of the record; the food's temperature with the first step."""

from __future__ import annotations

from datetime import date, datetime

import pytest
from django.db import IntegrityError, transaction
from django.test import Client
from django.urls import reverse
from django.utils import timezone

from kitchen.audit.models import AuditEvent
from kitchen.errors import (
    AlreadyDecided,
    AlreadyRecorded,
    BadMembership,
    BadReading,
    BadTime,
    KitchenError,
    NotAllowed,
    OutOfOrder,
)
from kitchen.floor.actions import record_event, withdraw_event
from kitchen.floor.handing_over import hand_over
from kitchen.floor.models import EventKind, RunEvent
from kitchen.floor.pages import Card, canner_pages
from kitchen.floor.queries import newest_line, steps_of, whole_record
from kitchen.members.models import CannerTraining, User
from kitchen.planning.recorded import records_of
from kitchen.records.actions import sign_record
from kitchen.records.content import record_of
from kitchen.records.rules import can_review
from kitchen.records.sheet import sections_of
from tests.factories.canner_runs import BEAN_TAPS, BEANS_OUT, Run, make_bean_run
from tests.factories.sites import make_site
from tests.factories.walks import rows, signed_in

pytestmark = pytest.mark.django_db


@pytest.fixture
def run() -> Run:
    """Seven quarts at pressure since minute 32."""
    run = make_bean_run(make_site())
    for kind, minutes in BEAN_TAPS[:4]:
        run.tap(kind, minutes)
    return run


def pass_on(run: Run, minutes: float, to: User | None = None, **more: object) -> RunEvent:
    """The operator writes down that the lead, or somebody else, takes over."""
    given = {"load": run.load, "at": run.at(minutes), "actor": run.site.operator, "now": run.at(60)}
    return hand_over(to=to or run.site.lead, **given | more)  # type: ignore[arg-type]


def card(run: Run, minutes: float) -> Card:
    (page,) = canner_pages(run.day, [run.load.canner], run.at(minutes))
    assert page.card is not None
    return page.card


def lines(run: Run) -> dict[str, tuple[str, str]]:
    """The recorded lines as the record says them: what, then value and remark."""
    (section,) = [one for one in sections_of(record_of(run.load)) if one.key == "line"]
    return {entry.what: (entry.value, entry.remark) for entry in section.entries}


def test_who_takes_over_is_stamped_and_audited(run: Run) -> None:
    line = pass_on(run, 33, note="My shift is over")
    assert (line.kind, line.taken_by, line.recorded_by, line.at, line.recorded_at) == (
        EventKind.HAND_OVER,
        run.site.lead,
        run.site.operator,
        run.at(33),
        run.at(60),
    )
    audited = AuditEvent.objects.latest("pk")
    assert (audited.action, audited.after["taken_by"]) == ("record_event", run.site.lead.pk)


def test_a_hand_over_is_no_step(run: Run) -> None:
    pass_on(run, 33)
    assert [one.kind for one in steps_of(whole_record(run.load))] == [kind for kind, _ in BEAN_TAPS[:4]]
    assert card(run, 40).step is EventKind.HEAT_OFF
    for kind, minutes in BEAN_TAPS[4:]:
        run.tap(kind, minutes)
    run.take_out(BEANS_OUT)
    assert run.fresh().deviation == ""


def test_the_rest_of_a_day_is_planned_from_the_steps_alone(run: Run) -> None:
    (before,) = records_of(run.day, run.at(60))
    pass_on(run, 33)
    assert records_of(run.day, run.at(60)) == (before,)


@pytest.mark.parametrize(
    ("minutes", "refusal"),
    [(4, OutOfOrder), (57, OutOfOrder), (61, BadTime)],
    ids=["heat on", "heat off", "now"],
)
def test_there_is_a_watch_from_heat_on_to_heat_off(
    run: Run, minutes: int, refusal: type[KitchenError]
) -> None:
    run.tap(EventKind.HEAT_OFF, 57)
    before = rows()
    with pytest.raises(refusal):
        pass_on(run, minutes)
    assert rows() == before


def test_nothing_is_handed_over_before_the_heat_is_on() -> None:
    with pytest.raises(OutOfOrder, match="no watch to hand over"):
        pass_on(make_bean_run(make_site()), 10)


@pytest.mark.parametrize("trained", ["never", "lapsed", "under 16"])
def test_only_a_trained_person_takes_over(run: Run, trained: str) -> None:
    membership = run.site.member.memberships.get(kitchen=run.site.kitchen)
    if trained != "never":
        ends = date(2026, 9, 11) if trained == "lapsed" else None
        CannerTraining.objects.create(
            membership=membership, trained_on=date(2026, 3, 1), trained_by="Extension office", expires_on=ends
        )
    membership.under_16 = trained == "under 16"
    membership.save()
    with pytest.raises(BadMembership, match="rule S9"):
        pass_on(run, 33, run.site.member)
    assert run.site.member not in card(run, 34).takers


def test_a_member_hands_nothing_over(run: Run) -> None:
    with pytest.raises(NotAllowed):
        pass_on(run, 33, actor=run.site.member)


def test_nobody_takes_over_from_themselves(run: Run) -> None:
    pass_on(run, 33)
    with pytest.raises(AlreadyDecided, match="has the watch already"):
        pass_on(run, 40)
    assert pass_on(run, 41, run.site.operator).taken_by == run.site.operator


def test_the_card_says_who_watches_and_how_long_both_stay(run: Run) -> None:
    assert set(card(run, 33).takers) == {run.site.lead, run.site.operator}
    pass_on(run, 33)
    shown = card(run, 42)
    assert shown.hand_over is not None
    assert (shown.hand_over.taken_by, shown.both_until) == (run.site.lead, run.at(43))
    assert shown.takers == [run.site.operator]
    assert card(run, 43).both_until is None
    run.tap(EventKind.HEAT_OFF, 57)
    assert card(run, 58).takers == []


def test_steps_and_hand_overs_do_not_overtake_each_other(run: Run) -> None:
    seen = newest_line(run.load)
    pass_on(run, 33, seen=seen)
    with pytest.raises(AlreadyRecorded, match="“Watch handed over” at 09:33"):
        pass_on(run, 33, seen=seen)
    at = run.at(57)
    record_event(load=run.load, kind=EventKind.HEAT_OFF, at=at, actor=run.site.operator, seen=seen, now=at)
    assert pass_on(run, 50, run.site.operator, seen=newest_line(run.load)).at == run.at(50)


def test_a_wrong_hand_over_is_corrected_and_taken_back(run: Run) -> None:
    line = pass_on(run, 33)
    right = pass_on(run, 35, corrects=line)
    assert card(run, 50).hand_over == right
    withdraw_event(event=right, actor=run.site.operator, note="She did not come", now=run.at(60))
    shown = card(run, 50)
    assert (shown.hand_over, shown.step) == (None, EventKind.HEAT_OFF)
    assert RunEvent.objects.filter(kind=EventKind.HAND_OVER, taken_by=run.site.lead).count() == 3


def test_the_record_says_it_and_where_no_phase_ended(run: Run) -> None:
    run.tap(EventKind.HEAT_OFF, 57)
    pass_on(run, 50)
    pass_on(run, 38, run.site.operator)
    told = lines(run)
    assert told["6. Watch handed over"] == ("to Lead Fenwick", "")
    assert told["7. Watch handed over"] == ("to Operator Fenwick", "Handed over in the middle of a phase.")


def test_whoever_took_over_does_not_review(run: Run) -> None:
    pass_on(run, 33)
    for kind, minutes in BEAN_TAPS[4:]:
        run.tap(kind, minutes)
    run.take_out(BEANS_OUT)
    second = User.objects.create_user("second@yard.example", "Second Fenwick")
    second.memberships.create(kitchen=run.site.kitchen, role="lead")
    sign_record(load=run.load, by=run.site.operator, digest=record_of(run.load).digest)
    record = record_of(run.load)
    assert [can_review(one, record) for one in (run.site.lead, second)] == [False, True]


def test_the_digest_covers_who_took_over(run: Run) -> None:
    before = record_of(run.load).digest
    pass_on(run, 33)
    assert record_of(run.load).digest != before


@pytest.mark.parametrize(
    "wrong",
    [
        {"kind": "hand_over"},
        {"kind": "heat_off", "taken_by": True},
        {"kind": "heat_off", "initial_temp_f": 140.0},
    ],
    ids=["to nobody", "taken by somebody", "a temperature later on"],
)
def test_the_database_refuses_what_cannot_be(run: Run, wrong: dict[str, object]) -> None:
    if "taken_by" in wrong:
        wrong = wrong | {"taken_by": run.site.lead}
    with pytest.raises(IntegrityError), transaction.atomic():
        RunEvent.objects.create(load=run.load, at=run.at(40), recorded_by=run.site.operator, **wrong)


def load_at(
    run: Run, temperature: float | None, kind: EventKind = EventKind.LOADED, minutes: int = 5
) -> RunEvent:
    at = run.at(minutes)
    actor = run.site.operator
    return record_event(load=run.load, kind=kind, at=at, actor=actor, initial_temp_f=temperature, now=at)


def test_the_initial_temperature_stands_in_the_record() -> None:
    run = make_bean_run(make_site())
    load_at(run, 140)
    (jars,) = [one for one in sections_of(record_of(run.load)) if one.key == "jars"]
    assert (jars.entries[-1].what, jars.entries[-1].value) == ("Initial temperature", "140 °F")
    assert lines(run)["1. Loaded, heat on"][0] == "140 °F"


@pytest.mark.parametrize("temperature", [31, 213])
def test_food_in_a_jar_is_neither_ice_nor_steam(temperature: int) -> None:
    run = make_bean_run(make_site())
    with pytest.raises(BadReading):
        load_at(run, temperature)


def test_only_the_first_step_has_an_initial_temperature(run: Run) -> None:
    with pytest.raises(OutOfOrder, match="no initial temperature"):
        load_at(run, 140, EventKind.HEAT_OFF, 57)


class TestOnThePages:
    """The same by the run sheet's forms."""

    @pytest.fixture
    def operator(self, run: Run, monkeypatch: pytest.MonkeyPatch) -> Client:
        self.now: datetime = run.at(40)
        monkeypatch.setattr(timezone, "now", lambda: self.now)
        return signed_in(run.site.operator)

    def post(self, client: Client, run: Run, name: str, given: dict[str, object], *more: int) -> str:
        address = reverse(f"floor:{name}", args=[run.site.kitchen.slug, run.load.uuid, *more])
        return client.post(address, {"seen": newest_line(run.load), **given}, follow=True).content.decode()

    def test_a_press_hands_over(self, run: Run, operator: Client) -> None:
        page = self.post(operator, run, "hand-over", {"to": run.site.lead.uuid})
        assert "Recorded: Lead Fenwick has the watch." in page
        assert "At this canner since 09:40: Lead Fenwick. Both stay until 09:50." in page.replace("</p>", "")
        assert "Watch handed over to Lead Fenwick" in page

    def test_to_a_stranger_is_not_readable(self, run: Run, operator: Client) -> None:
        page = self.post(operator, run, "hand-over", {"to": make_site().lead.uuid})
        assert "Choose who takes over the watch." in page
        assert not RunEvent.objects.filter(kind=EventKind.HAND_OVER).exists()

    def test_it_is_corrected_and_taken_back(self, run: Run, operator: Client) -> None:
        line = pass_on(run, 33)
        self.post(operator, run, "correct", {"at": "2026-09-12T09:35", "note": "Later"}, line.pk)
        right = RunEvent.objects.get(corrects=line)
        assert (right.at, right.taken_by, right.note) == (run.at(35), run.site.lead, "Later")
        address = reverse("floor:line", args=[run.site.kitchen.slug, run.load.uuid, right.pk])
        assert "Take it back" in operator.get(address).content.decode()

    def test_degrees_celsius_are_kept_as_fahrenheit(self, operator: Client) -> None:
        run = make_bean_run(make_site())
        self.now = run.at(5)
        client = signed_in(run.site.operator)
        User.objects.update(units="metric")
        given: dict[str, object] = {"kind": "loaded", "initial_temp": "60", "degrees": "C"}
        page = self.post(client, run, "step", given)
        line = RunEvent.objects.get(load=run.load)
        assert line.initial_temp_f == 140
        assert "food at 140 °F (60\N{NO-BREAK SPACE}°C)" in page
        address = reverse("floor:line", args=[run.site.kitchen.slug, run.load.uuid, line.pk])
        asked = client.get(address).content.decode()
        assert "coldest jar, °C" in asked
        assert 'name="initial_temp" value="60"' in asked
