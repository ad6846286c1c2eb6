"""The run sheet in a browser: a clean load, a loss, a deviation, a hand-over, two tablets, and a line that is down."""

from __future__ import annotations

from collections.abc import Callable
from datetime import datetime

import pytest
from django.utils import timezone
from playwright.sync_api import expect

from kitchen.floor.models import EventKind, RunEvent
from kitchen.members.actions import set_password
from kitchen.planning.models import Load
from tests.factories.canner_runs import BEAN_TAPS, BEANS_OUT, Run, make_bean_run
from tests.factories.sites import make_site
from tests.journeys.visitor import PASSWORD, Visitor

pytestmark = [pytest.mark.browser, pytest.mark.django_db(transaction=True)]

WIDTHS = pytest.mark.parametrize("width", [390, 1280])


class Clock:
    """The server's clock; the tablet's own shows whatever it likes."""

    def __init__(self, run: Run) -> None:
        self.run = run
        self.now: datetime = run.at(0)

    def to(self, minutes: float) -> None:
        self.now = self.run.at(minutes)


@pytest.fixture
def run() -> Run:
    site = make_site()
    for user in (site.lead, site.operator):
        set_password(user=user, password=PASSWORD, actor=None)
    run = make_bean_run(site)
    Load.objects.filter(pk=run.load.pk).update(places=seven_places())
    return run


@pytest.fixture
def clock(run: Run, monkeypatch: pytest.MonkeyPatch) -> Clock:
    clock = Clock(run)
    monkeypatch.setattr(timezone, "now", lambda: clock.now)
    return clock


def seven_places() -> list[dict[str, object]]:
    """Six quarts round a seventh."""
    middles = [(0.0, 0.0), (4.0, 0.0), (2.0, 3.5), (-2.0, 3.5), (-4.0, 0.0), (-2.0, -3.5), (2.0, -3.5)]
    return [{"layer": 1, "x_in": x, "y_in": y, "diameter_in": 3.75, "jar": "quart"} for x, y in middles]


def open_sheet(visitor: Visitor, run: Run, email: str) -> None:
    """From the sign-in straight to the canner's page."""
    visitor.page.goto(
        f"/sign-in/?next=/kitchens/{run.site.kitchen.slug}/days/{run.day.uuid}/canners/{run.load.canner.uuid}/"
    )
    visitor.page.get_by_label("E-mail address").fill(email)
    visitor.page.get_by_label("Password").fill(PASSWORD)
    visitor.press("Sign in")
    expect(visitor.page.get_by_role("heading", level=1)).to_contain_text(run.load.canner.name)


def look_again(visitor: Visitor) -> None:
    """What the page does by itself every few seconds, at once."""
    visitor.page.evaluate("document.dispatchEvent(new Event('visibilitychange'))")


def say(visitor: Visitor, words: str) -> None:
    expect(visitor.page.locator(".now .say")).to_have_text(words)


@WIDTHS
def test_a_clean_load(visit: Callable[[int], Visitor], run: Run, clock: Clock, width: int) -> None:
    """One press an event: by mouse on the narrow screen, by keyboard on the wide one."""
    operator = visit(width)
    open_sheet(operator, run, run.site.operator.email)
    say(operator, "Load the jars, then heat on")
    operator.look("sheet-loading")
    for kind, minutes in (*BEAN_TAPS, (EventKind.JARS_OUT, BEANS_OUT)):
        clock.to(minutes - 0.5)
        look_again(operator)
        if kind is EventKind.WEIGHT_ON:
            say(operator, "Let it vent")
            expect(operator.page.get_by_role("timer")).to_have_text("0:30")
            operator.look("sheet-venting")
        if kind is EventKind.HEAT_OFF:
            say(operator, "Hold the pressure")
            operator.look("sheet-process")
        clock.to(minutes)
        look_again(operator)
        button = operator.page.get_by_role("button", name=kind.label, exact=True)
        expect(button).to_be_enabled()
        if width == 390:
            button.click()
        else:
            button.focus()
            operator.page.keyboard.press("Enter")
        expect(operator.page.get_by_role("status").first).to_contain_text(
            "jars out at" if kind is EventKind.JARS_OUT else f"Recorded: {kind.label}."
        )
    say(operator, "All loads are out")
    operator.look("sheet-done")
    assert (run.fresh().state, run.fresh().deviation) == ("out", "")
    assert RunEvent.objects.filter(load=run.load).count() == len(BEAN_TAPS) + 1
