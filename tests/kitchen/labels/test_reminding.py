"""Members hear once a month which jars on their shelf to use first."""

from __future__ import annotations

from datetime import UTC, datetime, timedelta

import pytest
from django.core.mail import EmailMultiAlternatives

from kitchen.labels.actions import move_jars
from kitchen.labels.models import MoveKind
from kitchen.labels.reminding import remind_of_shelf
from kitchen.planning.models import Load
from kitchen.reminders.models import Kind, Reminder
from kitchen.reminders.sweeping import sweep_due
from tests.factories.canner_runs import Run
from tests.factories.shelf import make_shelf

pytestmark = pytest.mark.django_db

BEST_BY = datetime(2027, 9, 12, 18, tzinfo=UTC)


@pytest.fixture
def run() -> Run:
    return make_shelf()


def before(days: int) -> datetime:
    return BEST_BY - timedelta(days=days)


def test_the_member_hears_in_the_morning_which_lot_until_when(
    run: Run, mailoutbox: list[EmailMultiAlternatives]
) -> None:
    assert remind_of_shelf(now=before(30)) == 1
    reminder = Reminder.objects.get(kind=Kind.SHELF)
    assert reminder.due_at.astimezone(run.site.kitchen.zone).hour == 9
    assert sweep_due(now=reminder.due_at).sent == 1
    (mail,) = mailoutbox
    assert mail.to == [run.site.member.email]
    what = f"7 of {run.portion.batch.food_name}, lot {run.load.lot_code}-A"
    assert f"Best by Sunday 12 September 2027: {what}" in str(mail.body)
    assert "List-Unsubscribe" in mail.message()


def test_it_comes_once_a_month_and_no_month_is_left_out(run: Run) -> None:
    for days in range(60, -5, -1):
        remind_of_shelf(now=before(days))
    told = Reminder.objects.filter(kind=Kind.SHELF).order_by("about").values_list("about", flat=True)
    assert [about[-7:] for about in told] == ["2027-08", "2027-09"]


def test_what_is_gone_on_hold_or_past_its_best_is_not_named(run: Run) -> None:
    assert remind_of_shelf(now=before(-1)) == 0
    assert remind_of_shelf(now=before(60)) == 0
    Load.objects.filter(pk=run.load.pk).update(on_hold=True, deviation="Vented 8 of 10 minutes (rule S4).")
    assert remind_of_shelf(now=before(30)) == 0
    Load.objects.filter(pk=run.load.pk).update(on_hold=False)
    move_jars(portion=run.portion, jars=7, kind=MoveKind.TAKEN_HOME, by=run.site.member)
    assert remind_of_shelf(now=before(30)) == 0
