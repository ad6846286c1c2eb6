"""Dial gauges whose year is nearly over: the leads hear in time, once each time, until there is a new check."""

from __future__ import annotations

from datetime import UTC, date, datetime, timedelta
from decimal import Decimal

import pytest
from django.core.mail import EmailMultiAlternatives

from kitchen.equipment.actions import record_gauge_check, take_out_of_service
from kitchen.reminders.gauges import remind_of_gauges
from kitchen.reminders.models import Kind, Reminder, State
from kitchen.reminders.sweeping import sweep_due
from tests.factories.sites import Site, make_site

pytestmark = pytest.mark.django_db

CHECKED = date(2026, 3, 1)
LAST = date(2027, 3, 1)


def noon(days_before: int) -> datetime:
    """Noon in Denver, so many days before the last day of the gauge's year."""
    return datetime(LAST.year, LAST.month, LAST.day, 19, tzinfo=UTC) - timedelta(days=days_before)


def checked(site: Site, on: date, now: datetime) -> None:
    record_gauge_check(
        canner=site.dial, checked_on=on, error_psi=Decimal(0), checked_by="Harrow", actor=site.lead, now=now
    )


@pytest.fixture
def site() -> Site:
    site = make_site()
    checked(site, CHECKED, datetime(2026, 3, 2, tzinfo=UTC))
    return site


def waiting() -> list[Reminder]:
    return list(Reminder.objects.filter(kind=Kind.GAUGE, state=State.DUE))


@pytest.mark.parametrize(("days", "many"), [(31, 0), (30, 1), (0, 1), (-1, 0)])
def test_the_leads_hear_within_the_last_month(site: Site, days: int, many: int) -> None:
    assert remind_of_gauges(now=noon(days)) == many
    assert len(waiting()) == many


def test_they_hear_in_the_morning_once_a_month_ahead_and_once_a_week_ahead(
    site: Site, mailoutbox: list[EmailMultiAlternatives]
) -> None:
    for days in range(40, -2, -1):
        remind_of_gauges(now=noon(days))
        remind_of_gauges(now=noon(days))
        sweep_due(now=noon(days))
    assert [mail.subject for mail in mailoutbox] == [
        f"Gauge check due: {site.dial.name}, by Monday 1 March 2027"
    ] * 2
    assert {tuple(mail.to) for mail in mailoutbox} == {(site.lead.email,)}
    due = Reminder.objects.filter(kind=Kind.GAUGE).order_by("due_at").values_list("due_at", flat=True)
    assert [at.astimezone(site.kitchen.zone).hour for at in due] == [9, 9]
    assert [(LAST - at.date()).days for at in due] == [29, 6]


def test_a_new_check_withdraws_what_waits(site: Site) -> None:
    remind_of_gauges(now=noon(20))
    checked(site, LAST - timedelta(days=20), noon(20))
    assert remind_of_gauges(now=noon(20)) == 1
    assert not waiting()


def test_a_canner_that_is_not_used_and_one_never_checked_are_left_alone(site: Site) -> None:
    make_site()
    take_out_of_service(canner=site.dial, reason="Its lid is bent.", actor=site.lead)
    assert remind_of_gauges(now=noon(3)) == 0
