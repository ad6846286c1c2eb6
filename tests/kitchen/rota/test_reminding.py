"""Tomorrow's shifts are told the evening before, to whoever has them then, with a calendar."""

from __future__ import annotations

from datetime import UTC, datetime, timedelta
from email import message_from_bytes, policy

import pytest
from django.core.mail import EmailMultiAlternatives
from django.db import transaction
from icalendar import Calendar

from kitchen.members.models import User
from kitchen.planning.models import DayState, HarvestDay
from kitchen.reminders.claims import claim
from kitchen.reminders.mail import wire_of
from kitchen.reminders.message import message_of
from kitchen.reminders.models import Kind, Reminder, State
from kitchen.reminders.sweeping import sweep_due
from kitchen.rota.models import Shift, Station
from kitchen.rota.reminding import remind_of_shifts
from scheduler.agenda import entry_uid
from tests.factories.sites import DAY, Site, make_site

pytestmark = pytest.mark.django_db

BEFORE = datetime(2026, 9, 10, 12, tzinfo=UTC)
EVENING = datetime(2026, 9, 12, 0, tzinfo=UTC)
"""18:00 in Denver on the day before."""


@pytest.fixture
def site() -> Site:
    return make_site()


@pytest.fixture
def day(site: Site) -> HarvestDay:
    return HarvestDay.objects.create(
        kitchen=site.kitchen, date=DAY, opens_at=site.at(8), closes_at=site.at(18), state=DayState.PUBLISHED
    )


def shift(site: Site, day: HarvestDay, user: User | None, hour: int) -> Shift:
    return Shift.objects.create(
        harvest_day=day, user=user, station=Station.FILL, starts_at=site.at(hour), ends_at=site.at(hour + 2)
    )


def follow(day: HarvestDay, at: datetime = BEFORE) -> int:
    with transaction.atomic():
        return remind_of_shifts(day, at=at)


def states() -> dict[str, str]:
    rows = Reminder.objects.filter(kind=Kind.SHIFT)
    return {one.recipient.email: one.state for one in rows}


def test_each_is_told_once_the_evening_before_with_all_of_their_shifts(
    site: Site, day: HarvestDay, mailoutbox: list[EmailMultiAlternatives]
) -> None:
    mine = [shift(site, day, site.member, hour) for hour in (13, 9)]
    shift(site, day, None, 11)
    assert follow(day) == 1
    assert follow(day) == 0, "nothing has changed"
    assert sweep_due(now=EVENING - timedelta(seconds=1)).sent == 0
    assert sweep_due(now=EVENING).sent == 1
    (mail,) = mailoutbox
    assert mail.to == [site.member.email]
    assert mail.subject == "Your shifts on Saturday 12 September"
    assert str(mail.body).index("09:00 to 11:00") < str(mail.body).index("13:00 to 15:00")
    name, content, kind = mail.attachments[0]
    assert (name, kind) == ("shifts.ics", "text/calendar")
    events = Calendar.from_ical(str(content)).events
    assert {str(one["UID"]) for one in events} == {entry_uid("shift", one.uuid) for one in mine}
    assert {one.start for one in events} == {one.starts_at for one in mine}


def test_the_bytes_for_a_mail_server_hold_the_calendar(site: Site, day: HarvestDay) -> None:
    shift(site, day, site.member, 9)
    follow(day)
    claimed = claim(Reminder.objects.get(kind=Kind.SHIFT).pk, now=EVENING, held_from=None)
    assert claimed
    mail = message_from_bytes(wire_of(message_of(claimed.reminder, now=EVENING)), policy=policy.default)
    assert [part.get_content_type() for part in mail.walk() if not part.is_multipart()] == [
        "text/plain",
        "text/html",
        "text/calendar",
    ]
    (file,) = mail.iter_attachments()
    assert len(Calendar.from_ical(file.get_content()).events) == 1


def test_a_change_replaces_what_waits_and_a_loss_withdraws_it(site: Site, day: HarvestDay) -> None:
    one = shift(site, day, site.member, 9)
    follow(day)
    Shift.objects.filter(pk=one.pk).update(starts_at=site.at(10), ends_at=site.at(11), sequence=1)
    assert follow(day) == 1
    reminder = Reminder.objects.get(kind=Kind.SHIFT)
    assert "10:00 to 11:00" in reminder.news["lines"][0]
    assert reminder.news["entries"][0]["sequence"] == 1
    Shift.objects.filter(pk=one.pk).update(user=site.other)
    follow(day)
    assert states() == {site.member.email: State.CANCELLED, site.other.email: State.DUE}
    Shift.objects.filter(pk=one.pk).update(user=site.member)
    follow(day)
    assert states() == {site.member.email: State.DUE, site.other.email: State.CANCELLED}
    HarvestDay.objects.filter(pk=day.pk).update(state=DayState.CLOSED)
    day.refresh_from_db()
    follow(day)
    assert set(states().values()) == {State.CANCELLED}


def test_nobody_is_told_again_or_after_the_evening_is_over(
    site: Site, day: HarvestDay, mailoutbox: list[EmailMultiAlternatives]
) -> None:
    one = shift(site, day, site.member, 9)
    follow(day)
    sweep_due(now=EVENING)
    Shift.objects.filter(pk=one.pk).update(starts_at=site.at(10), ends_at=site.at(11))
    late = shift(site, day, site.other, 9)
    assert follow(day, EVENING + timedelta(hours=1)) == 0
    assert late.user is not None
    sweep_due(now=EVENING + timedelta(hours=10))
    assert len(mailoutbox) == 1, "news of the rota tells them"


def test_what_waits_for_the_morning_follows_a_change_and_keeps_its_time(site: Site, day: HarvestDay) -> None:
    one = shift(site, day, site.member, 9)
    follow(day)
    morning = EVENING + timedelta(hours=13)
    Reminder.objects.update(next_attempt_at=morning)
    Shift.objects.filter(pk=one.pk).update(starts_at=site.at(9, 30))
    assert follow(day, EVENING + timedelta(hours=1)) == 1
    reminder = Reminder.objects.get(kind=Kind.SHIFT)
    assert (reminder.state, reminder.next_attempt_at) == (State.DUE, morning)
    assert "09:30" in reminder.news["lines"][0]
