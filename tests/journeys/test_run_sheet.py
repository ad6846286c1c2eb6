"""The run sheet in a browser: a clean load, a loss, a deviation, a hand-over, two tablets, and a line that is down."""

from __future__ import annotations

from collections.abc import Callable
from datetime import datetime

import pytest
from django.utils import timezone
from playwright.sync_api import Browser, Locator, Page, Route, expect
from pytest_django.live_server_helper import LiveServer

from kitchen.floor.models import EventKind, RunEvent
from kitchen.floor.queries import standing_events
from kitchen.members.models import User
from kitchen.members.signing_in import set_password
from kitchen.planning.models import Load
from kitchen.rota.models import Shift
from tests.factories.canner_runs import BEAN_TAPS, BEANS_OUT, Run, make_bean_run
from tests.factories.sites import make_site
from tests.journeys.visitor import PASSWORD, Visitor
from tests.journeys.ways import Way, every_way

pytestmark = [pytest.mark.browser, pytest.mark.django_db(transaction=True)]


_KEPT = """async least => {
  const copies = await caches.open("run-sheets");
  for (let looks = 0; looks < 400; looks += 1) {
    if ((await copies.keys()).length >= least) return;
    await new Promise((later) => setTimeout(later, 50));
  }
  throw new Error("The copies were not made.");
}"""
"""The page itself, two style sheets, the script and the icon are kept."""


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


def open_sheet(visitor: Visitor, run: Run, who: User) -> None:
    sign_in_at_sheet(visitor.page, run, who)


def sign_in_at_sheet(page: Page, run: Run, who: User) -> None:
    """From the sign-in straight to the canner's page."""
    place = f"/kitchens/{run.site.kitchen.slug}/days/{run.day.uuid}/canners/{run.load.canner.uuid}/"
    page.goto(f"/sign-in/?next={place}")
    page.get_by_label("E-mail address").fill(who.email)
    page.get_by_label("Password").fill(PASSWORD)
    page.get_by_role("button", name="Sign in").click()
    expect(page.get_by_role("heading", level=1)).to_contain_text(run.load.canner.name)


def look_again(visitor: Visitor) -> None:
    """What the page does by itself every few seconds, at once."""
    visitor.page.evaluate("document.dispatchEvent(new Event('visibilitychange'))")


def says(visitor: Visitor, words: str) -> None:
    expect(visitor.page.locator(".now .say")).to_have_text(words)


def told(visitor: Visitor) -> Locator:
    return visitor.page.locator("main > .note[role=status]")


def tap_until(run: Run, last: EventKind) -> None:
    """The planned steps up to and with this one, as another tablet recorded them."""
    for kind, minutes in BEAN_TAPS:
        run.tap(kind, minutes)
        if kind is last:
            return


@every_way(without_scripts=False)
def test_a_clean_load(visit: Callable[[int | Way], Visitor], run: Run, clock: Clock, way: Way) -> None:
    """One press an event, the first on the page of all canners. The tablet's own clock is months off, and it is closed
    while the canner vents.
    """
    operator = visit(way)
    page = operator.page
    page.add_init_script("window.shaken = []; navigator.vibrate = (how) => window.shaken.push(how);")
    open_sheet(operator, run, run.site.operator)
    says(operator, "Load the jars, then heat on")
    operator.press("Sound and vibration when a time is up: off")
    expect(page.get_by_role("button", name="Sound and vibration when a time is up: on")).to_be_visible()
    operator.look("sheet-loading")
    operator.follow("All canners on one screen")
    operator.look("sheet-all-canners")
    clock.to(5)
    operator.type("Food in the coldest jar, °F (may stay empty)", "140")
    operator.presses = 0
    operator.press("Loaded, heat on")
    says(operator, "Heat up until steam flows steadily")
    operator.touch(page.get_by_role("link", name=run.load.canner.name))
    for kind, minutes in (*BEAN_TAPS[1:], (EventKind.JARS_OUT, BEANS_OUT)):
        if kind is EventKind.WEIGHT_ON:
            clock.to(minutes - 0.5)
            page.reload()
            says(operator, "Let it vent")
            expect(page.get_by_role("timer")).to_have_text("0:30")
            assert page.evaluate("window.shaken") == []
        clock.to(minutes)
        if operator.page.get_by_role("button", name=kind.label, exact=True).count() == 0:
            look_again(
                operator
            )  # Its wait is over; a few seconds later the page would have seen it by itself.
        operator.press(kind.label)
        expect(told(operator)).to_contain_text("jars out at" if kind is EventKind.JARS_OUT else kind.label)
    assert len(page.evaluate("window.shaken")) == 4, "once for vent, process, cool-down and rest"
    says(operator, "All loads are out")
    assert (run.fresh().state, run.fresh().deviation) == ("out", "")
    assert RunEvent.objects.filter(load=run.load).count() == len(BEAN_TAPS) + 1
    assert operator.presses == len(BEAN_TAPS) + 1 + 1, (
        "one press an event, and one from all canners to this one"
    )
    assert RunEvent.objects.get(load=run.load, kind=EventKind.LOADED).initial_temp_f == 140


@every_way(without_scripts=False)
def test_a_loss_and_a_deviation(
    visit: Callable[[int | Way], Visitor], run: Run, clock: Clock, way: Way
) -> None:
    """Pressure falls and the full time begins anew; then the heat goes off too early, and the jars are on hold."""
    tap_until(run, EventKind.AT_PRESSURE)
    clock.to(50)
    operator = visit(way)
    open_sheet(operator, run, run.site.operator)
    says(operator, "Hold the pressure")
    expect(operator.page.get_by_role("timer")).to_have_text("7:00")
    operator.look("sheet-process")
    operator.press("Pressure lost")
    says(operator, "Pressure is lost. Bring it back")
    expect(operator.page.get_by_role("button", name="Heat off", exact=True)).to_have_count(0)
    operator.touch(operator.page.locator("summary", has_text="It happened at another time"))
    operator.look("sheet-lost")
    clock.to(54)
    operator.press("At pressure")
    expect(operator.page.get_by_text("until 10:19, then: Heat off")).to_be_visible()
    clock.to(58)
    look_again(operator)
    operator.press("Record “Heat off”")  # What was unfolded stays unfolded.
    expect(operator.page.locator(".now")).to_contain_text("On hold. Processed 4 of 25 minutes (rule S6).")
    operator.look("sheet-on-hold")
    # Tapped on the wrong load, it is taken back; what holds the jars stays until a lead has decided.
    operator.follow("That is wrong")
    operator.look("sheet-wrong-line")
    operator.type("Why it is taken back", "The other canner")
    operator.press("Take it back")
    says(operator, "Hold the pressure")
    expect(operator.page.locator(".now")).to_contain_text("On hold.")


@every_way(without_scripts=False)
def test_a_hand_over(visit: Callable[[int | Way], Visitor], run: Run, clock: Clock, way: Way) -> None:
    """Whoever comes takes over the watch with one press; the steps go on, and the record says who stood there."""
    rota(run)
    tap_until(run, EventKind.AT_PRESSURE)
    clock.to(33)
    relief = visit(way)
    open_sheet(relief, run, run.site.lead)
    watching = relief.page.locator(".watching")
    expect(watching).to_have_text(
        "At this canner now: Operator Fenwick, until 09:40. From 09:40: Lead Fenwick."
    )
    relief.touch(relief.page.locator("summary", has_text="Hand over the watch"))
    relief.look("sheet-hand-over")
    relief.press("I take over the watch")
    expect(told(relief)).to_have_text("Recorded: Lead Fenwick has the watch.")
    expect(watching).to_have_text("At this canner since 09:33: Lead Fenwick. Both stay until 09:43.")
    says(relief, "Hold the pressure")
    relief.look("sheet-handed-over")
    relief.touch(relief.page.locator("summary", has_text="Hand over the watch"))
    relief.choose("Who takes over", "Operator Fenwick")
    clock.to(45)
    look_again(relief)
    expect(watching).to_have_text("At this canner since 09:33: Lead Fenwick.")
    relief.press("Record the hand-over")  # Who was chosen stays chosen on the fresh page.
    expect(watching).to_have_text("At this canner since 09:45: Operator Fenwick. Both stay until 09:55.")
    taken = RunEvent.objects.filter(kind=EventKind.HAND_OVER).order_by("pk")
    assert [one.taken_by for one in taken] == [run.site.lead, run.site.operator]


@every_way(without_scripts=False)
def test_two_tablets_at_once(visit: Callable[[int | Way], Visitor], run: Run, clock: Clock, way: Way) -> None:
    """Two people at a canner, each with a tablet: what one records the other sees, and a late press does nothing."""
    rota(run)
    tap_until(run, EventKind.WEIGHT_ON)
    clock.to(32)
    first, second = visit(way), visit(way)
    open_sheet(first, run, run.site.operator)
    open_sheet(second, run, run.site.lead)
    second.touch(second.page.locator("summary", has_text="It happened at another time"))
    remark = second.page.locator("details[id^=other-]").get_by_label("Remark")
    remark.press_sequentially("The burner ")
    remark.press("Enter")  # Several steps could be recorded with it, so Enter records none.

    hang(second)
    first.press("At pressure")
    says(first, "Hold the pressure")
    clock.to(36)
    first.press("Pressure lost")
    says(first, "Pressure is lost. Bring it back")
    # The second tablet has not seen either yet. Its press would begin the clock anew, and must not.
    second.press("At pressure")
    expect(told(second)).to_contain_text("Recorded already: “At pressure” at 09:32 by Operator Fenwick.")
    says(second, "Pressure is lost. Bring it back")
    second.page.unroute_all()

    clock.to(41)
    look_again(second)
    expect(second.page.locator(".watching")).to_have_text("At this canner now: Lead Fenwick, until 10:30.")
    remark.focus()
    first.press("At pressure")
    says(first, "Hold the pressure")
    look_again(second)
    says(second, "Hold the pressure")
    second.page.keyboard.type("is weak")
    expect(remark).to_have_value("The burner is weak")
    clock.to(66)
    look_again(second)
    second.press("Heat off")
    says(second, "Leave it alone to cool")
    second.look("sheet-two-tablets")
    record = standing_events(run.load)
    assert [(one.kind, one.recorded_by) for one in record[-4:]] == [
        ("at_pressure", run.site.operator),
        ("pressure_lost", run.site.operator),
        ("at_pressure", run.site.operator),
        ("heat_off", run.site.lead),
    ]
    assert run.fresh().deviation == ""
    assert first.complaints == second.complaints == []


def rota(run: Run) -> None:
    """The operator watches until minute 40, then the lead."""
    for user, starts, ends in ((run.site.operator, 0, 40), (run.site.lead, 40, 90)):
        Shift.objects.create(
            harvest_day=run.day,
            user=user,
            station="canner",
            load=run.load,
            starts_at=run.at(starts),
            ends_at=run.at(ends),
        )


def hang(visitor: Visitor) -> None:
    """The page's own looks get no answer for a while."""
    visitor.page.route("**/*live=1*", lambda route: None)


def test_the_line_goes_down(visit: Callable[[int | Way], Visitor], run: Run, clock: Clock) -> None:
    """The clock goes on, nothing can be pressed, and what became of a press without an answer is told."""
    tap_until(run, EventKind.WEIGHT_ON)
    clock.to(32)
    operator = visit(390)
    open_sheet(operator, run, run.site.operator)
    page, banner = operator.page, operator.page.locator("#line-down")

    def lose_the_answer(route: Route) -> None:
        route.fetch()
        page.context.set_offline(True)
        route.abort()

    page.route("**/step/", lose_the_answer)
    page.get_by_role("button", name="At pressure", exact=True).click()
    expect(banner).to_contain_text("No connection since 09:32. Write on paper")
    expect(page.get_by_role("button", name="At pressure", exact=True)).to_be_disabled()
    before = page.get_by_role("timer").inner_text()
    expect(page.get_by_role("timer")).not_to_have_text(before)
    operator.complaints.clear()  # The browser itself notes each look that did not come through.
    operator.look("sheet-no-connection")
    page.context.set_offline(False)
    look_again(operator)
    expect(banner).to_be_hidden()
    expect(page.locator("#live")).to_contain_text("“At pressure” is recorded: 09:32, by Operator Fenwick.")
    says(operator, "Hold the pressure")
    expect(page.get_by_role("button", name="Pressure lost", exact=True)).to_be_enabled()
    assert RunEvent.objects.filter(load=run.load, kind="at_pressure").count() == 1


def test_the_page_is_loaded_anew_without_a_connection(
    visit: Callable[[int | Way], Visitor], run: Run, clock: Clock
) -> None:
    """A copy is shown that says so and takes no presses; it goes once the line is up, and for good on signing out."""
    tap_until(run, EventKind.AT_PRESSURE)
    clock.to(33)
    operator = visit(390)
    open_sheet(operator, run, run.site.operator)
    page, go = operator.page, operator.page.get_by_role("button", name="Pressure lost", exact=True)
    page.evaluate(_KEPT, 5)
    page.context.set_offline(True)
    page.reload()
    expect(page.locator("#copy")).to_contain_text("Copy from 09:33, not live.")
    expect(go).to_be_disabled()
    expect(page.get_by_role("timer")).to_have_text("09:57")
    operator.complaints.clear()  # The browser itself notes each look that did not come through.
    operator.look("sheet-copy")
    page.context.set_offline(False)
    expect(page.locator("#copy")).to_be_hidden()
    expect(go).to_be_enabled()
    operator.press("Sign out")
    expect(page.get_by_label("Password")).to_be_visible()
    assert page.evaluate("caches.keys()") == []


def test_without_scripts(browser: Browser, live_server: LiveServer, run: Run, clock: Clock) -> None:
    """The page says until when, comes again by itself, and one press is still one press."""
    tap_until(run, EventKind.WEIGHT_ON)
    clock.to(32)
    with browser.new_context(base_url=live_server.url, java_script_enabled=False) as context:
        page = context.new_page()
        sign_in_at_sheet(page, run, run.site.operator)
        second = context.new_page()
        second.goto(page.url)
        page.get_by_role("button", name="At pressure", exact=True).click()
        expect(page.locator("main > .note[role=status]")).to_contain_text("Recorded: At pressure.")
        expect(page.get_by_role("timer")).to_have_text("09:57")
        expect(page.get_by_text("until 09:57, then: Heat off")).to_be_visible()
        assert page.locator("meta[http-equiv=refresh]").get_attribute("content") == "60"
        second.get_by_role("button", name="At pressure", exact=True).click()
        expect(second.locator("main > .note[role=status]")).to_contain_text(
            "Nothing was written a second time."
        )
    assert RunEvent.objects.filter(load=run.load, kind="at_pressure").count() == 1
