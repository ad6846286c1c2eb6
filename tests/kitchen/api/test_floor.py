"""Pressing the run sheet from a program: once, in order, and never over what was not seen."""

from __future__ import annotations

from typing import Any

import pytest
from django.test import Client

from kitchen.api.models import Scope
from kitchen.floor.models import EventKind, RunEvent
from tests.factories.canner_runs import BEAN_TAPS, BEANS_OUT, Run, make_bean_run
from tests.factories.furnished import bearer
from tests.factories.sites import make_site

pytestmark = pytest.mark.django_db


@pytest.fixture
def run() -> Run:
    return make_bean_run(make_site())


@pytest.fixture
def tablet(run: Run) -> Client:
    """A tablet that may read the board and press, and nothing else."""
    return Client(headers=bearer(run.site.operator, run.site, Scope.BOARD, Scope.PRESS))


def base(run: Run) -> str:
    return f"/api/v1/kitchens/{run.site.kitchen.uuid}"


def press(tablet: Client, run: Run, kind: EventKind, minutes: float, seen: int, **more: object) -> Any:
    sent = {"kind": kind.value, "at": run.at(minutes), "seen": seen, **more}
    return tablet.post(f"{base(run)}/loads/{run.load.uuid}/record", sent, content_type="application/json")


def card(tablet: Client, run: Run) -> dict[str, Any]:
    told: dict[str, Any] = tablet.get(f"{base(run)}/days/{run.day.uuid}/board").json()["canners"][0]["card"]
    return told


def test_a_whole_load_is_run_from_a_tablet(tablet: Client, run: Run) -> None:
    for kind, minutes in BEAN_TAPS:
        shown = card(tablet, run)
        assert shown["step"] == kind.value
        assert press(tablet, run, kind, minutes, shown["seen"]).status_code == 201
    out = press(tablet, run, EventKind.JARS_OUT, BEANS_OUT, card(tablet, run)["seen"])
    assert (out.status_code, out.json()["kind"]) == (201, "jars_out")
    assert card(tablet, run) is None
    assert (run.fresh().state, run.fresh().on_hold) == ("out", False)
    record = tablet.get(f"{base(run)}/loads/{run.load.uuid}/record").json()
    assert [line["kind"] for line in record["lines"]] == [kind.value for kind, _ in BEAN_TAPS] + ["jars_out"]
    assert record["seen"] == record["lines"][-1]["id"]


def test_a_press_that_comes_twice_is_answered_with_the_line_that_stands(tablet: Client, run: Run) -> None:
    first = press(tablet, run, EventKind.LOADED, 5, 0)
    again = press(tablet, run, EventKind.LOADED, 5, 0)
    assert (first.status_code, again.status_code) == (201, 200)
    assert first.json() == again.json()
    assert RunEvent.objects.count() == 1


def test_a_press_that_somebody_overtook_is_refused(tablet: Client, run: Run) -> None:
    press(tablet, run, EventKind.LOADED, 5, 0)
    late = press(tablet, run, EventKind.STEADY_STEAM, 17, 0)
    assert (late.status_code, late.json()["code"]) == (409, "record-moved-on")
    assert RunEvent.objects.count() == 1


def test_jars_out_too_early_names_the_time(tablet: Client, run: Run) -> None:
    seen = 0
    for kind, minutes in (*BEAN_TAPS[:-2], (EventKind.ZERO_PRESSURE, 85), (EventKind.LID_OFF, 95)):
        seen = press(tablet, run, kind, minutes, seen).json()["id"]
    early = press(tablet, run, EventKind.JARS_OUT, 100, seen)
    assert (early.status_code, early.json()["code"]) == (409, "too-early")
    assert early.json()["earliest"].endswith("Z")
    assert run.fresh().state == "running"


def test_the_watch_is_handed_over_to_a_trained_person_of_this_kitchen(tablet: Client, run: Run) -> None:
    seen = press(tablet, run, EventKind.LOADED, 5, 0, initial_temp_f="140.5").json()["id"]
    nobody = press(tablet, run, EventKind.HAND_OVER, 20, seen)
    assert [one["pointer"] for one in nobody.json()["errors"]] == ["#/to"]
    stranger = press(tablet, run, EventKind.HAND_OVER, 20, seen, to=str(make_site().lead.uuid))
    assert [one["code"] for one in stranger.json()["errors"]] == ["not_here"]
    untrained = press(tablet, run, EventKind.HAND_OVER, 20, seen, to=str(run.site.member.uuid))
    assert untrained.status_code == 422
    taken = press(tablet, run, EventKind.HAND_OVER, 20, seen, to=str(run.site.lead.uuid))
    assert taken.status_code == 201
    assert taken.json()["taken_by"]["id"] == str(run.site.lead.uuid)
    lines = tablet.get(f"{base(run)}/loads/{run.load.uuid}/record").json()["lines"]
    assert [line["initial_temp_f"] for line in lines] == [140.5, None]


def test_a_wrong_line_is_corrected_and_stays(tablet: Client, run: Run) -> None:
    wrong = press(tablet, run, EventKind.LOADED, 5, 0).json()["id"]
    sent = {"at": run.at(6), "note": "A minute later."}
    path = f"{base(run)}/lines/{wrong}/correction"
    right = tablet.post(path, sent, content_type="application/json").json()
    assert (right["corrects"], right["withdraws"]) == (wrong, False)
    assert RunEvent.objects.count() == 2
    back = f"{base(run)}/lines/{right['id']}/withdrawal"
    taken = tablet.post(back, {"note": "Not at all."}, content_type="application/json").json()
    assert (taken["corrects"], taken["withdraws"]) == (right["id"], True)
