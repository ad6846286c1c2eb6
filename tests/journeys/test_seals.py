"""The seal check on a phone: each jar is tapped, and those that did not seal are booked to be processed again."""

from __future__ import annotations

from collections.abc import Callable
from datetime import time, timedelta

import pytest
from django.utils import timezone
from playwright.sync_api import expect

from kitchen.equipment.models import CoolingTable
from kitchen.members.models import OpeningHours
from kitchen.planning.models import Load
from kitchen.reminders.links import make_token
from kitchen.reprocess.models import ReprocessBooking
from kitchen.seals.models import SealCheck
from tests.factories.canner_runs import Run, make_beans_out
from tests.factories.sites import make_site
from tests.journeys.visitor import Visitor
from tests.journeys.ways import Way, every_way

pytestmark = [pytest.mark.browser, pytest.mark.django_db(transaction=True)]


@pytest.fixture
def run() -> Run:
    """Jars that came out thirteen hours ago, in a kitchen that is open day and night."""
    made = make_beans_out(make_site())
    made.day.state = "closed"
    made.day.save()
    OpeningHours.objects.update(opens=time(0), closes=time(23, 59))
    out = timezone.now() - timedelta(hours=13)
    Load.objects.filter(pk=made.load.pk).update(
        jars_out_at=out,
        process_ended_at=out - timedelta(hours=1),
        cooling_table=CoolingTable.objects.get(kitchen=made.site.kitchen),
        stands_until=out + timedelta(hours=24),
    )
    return made


def link(run: Run) -> str:
    return f"/s/{make_token(run.portion, run.site.member)}"


@every_way(without_scripts=True)
def test_jars_are_counted_and_an_unsealed_one_is_booked(
    run: Run, visit: Callable[[int | Way], Visitor], way: Way
) -> None:
    """With scripts each jar is tapped until it says what was found; without, the three counts are written."""
    visitor = visit(way)
    page = visitor.page
    page.goto(link(run))
    expect(page.get_by_text("They stand on Long table")).to_be_visible()
    if way.scripts:
        for jar in range(1, 8):
            visitor.touch(page.get_by_role("button", name=f"{jar} not looked at"))
        visitor.press("7 Sealed")
        expect(page.get_by_label("Sealed", exact=True)).to_have_value("6")
    else:
        for label, count in (("Sealed", "6"), ("Not sealed, or doubtful", "1"), ("Broken", "0")):
            visitor.type(label, count)
    visitor.look("seals-count")
    visitor.press("Write it down")
    expect(page.get_by_role("main")).to_contain_text("6 sealed, 1 unsealed, 0 broken")
    visitor.look("seals-result")
    visitor.follow("Process again")
    visitor.look("reprocess-offer")
    visitor.choose("Which trained person has agreed to watch the canner", "Operator Fenwick")
    visitor.press("Book this time")
    # A day is planned meanwhile.
    expect(page.get_by_role("heading", name="Booked")).to_be_visible()
    visitor.look("reprocess-booked")
    check = SealCheck.objects.get()
    assert (check.sealed, check.unsealed, check.broken) == (6, 1, 0)
    assert ReprocessBooking.objects.get().batch.jars == 1
