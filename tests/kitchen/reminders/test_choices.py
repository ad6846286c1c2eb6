"""What people chose about their e-mail, from the page to the mail server."""

from __future__ import annotations

from datetime import UTC, datetime, time, timedelta
from email.message import Message

import pytest
from django.core.mail import EmailMultiAlternatives
from django.db import transaction
from django.test import Client

from kitchen.audit.models import AuditEvent
from kitchen.errors import BadLink, BadSetting
from kitchen.reminders.actions import tell
from kitchen.reminders.choosing import choose_mail, end_mail
from kitchen.reminders.links import make_unsubscribe_link, read_unsubscribe_link
from kitchen.reminders.models import Kind, MailChoices, Notice, Reminder, State
from kitchen.reminders.queries import overdue
from kitchen.reminders.sweeping import sweep_due
from tests.factories.sites import Site, make_site
from tests.factories.walks import signed_in

pytestmark = pytest.mark.django_db

PAGE = "/about-me/mail/"
NIGHT = datetime(2026, 9, 13, 5, tzinfo=UTC)  # 23:00 in Denver.
MORNING = datetime(2026, 9, 13, 13, tzinfo=UTC)  # 07:00.
NOON = datetime(2026, 9, 13, 18, tzinfo=UTC)
EVENING = datetime(2026, 9, 14, 0, tzinfo=UTC)  # 18:00.


@pytest.fixture
def site() -> Site:
    return make_site()


def chosen(site: Site, *, quiet: bool = False, once_a_day: bool = False, off: tuple[str, ...] = ()) -> None:
    hours = (time(22), time(7)) if quiet else (None, None)
    choose_mail(user=site.member, quiet_from=hours[0], quiet_until=hours[1], once_a_day=once_a_day, off=off)


def told(
    site: Site,
    at: datetime,
    title: str = "Yours now: Fill",
    kind: Kind = Kind.ROTA,
    begins: datetime | None = None,
) -> Reminder:
    with transaction.atomic():
        (one,) = tell(
            kitchen=site.kitchen,
            to=[site.member],
            title=title,
            lines=[f"More of: {title}"],
            path="/x/",
            at=at,
            kind=kind,
            begins=begins,
        )
    return one


def headers(mail: EmailMultiAlternatives) -> Message:
    return mail.message()


def test_news_waits_for_the_end_of_quiet_hours_and_its_notice_does_not(
    site: Site, mailoutbox: list[EmailMultiAlternatives]
) -> None:
    chosen(site, quiet=True)
    one = told(site, NIGHT)
    assert sweep_due(now=NIGHT).sent == 0
    assert Notice.objects.filter(reminder=one).exists()
    one.refresh_from_db()
    assert (one.state, one.next_attempt_at, one.due_at, one.attempts) == (State.DUE, MORNING, NIGHT, 0)
    assert not overdue(NIGHT + timedelta(hours=1)).exists(), "it waits because its reader chose so"
    assert sweep_due(now=MORNING - timedelta(seconds=1)).sent == 0
    assert sweep_due(now=MORNING).sent == 1
    assert len(mailoutbox) == 1
    assert Notice.objects.count() == 1


def test_safety_breaks_quiet_hours(site: Site, mailoutbox: list[EmailMultiAlternatives]) -> None:
    chosen(site, quiet=True, once_a_day=True, off=("rota", "shift", "shelf"))
    told(site, NIGHT, kind=Kind.SAFETY)
    assert sweep_due(now=NIGHT).sent == 1
    assert "List-Unsubscribe" not in headers(mailoutbox[0])


def test_what_is_not_wanted_stands_on_the_page_alone(
    site: Site, mailoutbox: list[EmailMultiAlternatives]
) -> None:
    chosen(site, off=("rota",))
    one = told(site, NOON)
    assert sweep_due(now=NOON).sent == 1
    one.refresh_from_db()
    assert one.state == State.DONE
    assert not mailoutbox
    assert Notice.objects.filter(reminder=one).exists()
    assert AuditEvent.objects.get(action="send_reminder").after["mailed"] is False


def test_a_digest_says_everything_once(site: Site, mailoutbox: list[EmailMultiAlternatives]) -> None:
    chosen(site, once_a_day=True)
    told(site, NOON - timedelta(minutes=1), "First")
    told(site, NOON, "Second")
    assert sweep_due(now=NOON).sent == 2
    assert not mailoutbox
    sweep_due(now=EVENING - timedelta(seconds=1))
    assert not mailoutbox
    sweep_due(now=EVENING)
    sweep_due(now=EVENING + timedelta(hours=1))
    (mail,) = mailoutbox
    assert mail.subject == "2 messages of today"
    assert str(mail.body).index("More of: First") < str(mail.body).index("More of: Second")
    digest = Reminder.objects.get(kind=Kind.DIGEST)
    assert headers(mail)["Message-ID"] == f"<reminder-{digest.pk}@localhost>"
    assert Notice.objects.count() == 2, "the digest repeats what the page shows already"
    told(site, EVENING + timedelta(hours=1), "Third")
    sweep_due(now=EVENING + timedelta(hours=1))
    sweep_due(now=EVENING + timedelta(days=1))
    assert [one.subject for one in mailoutbox] == ["2 messages of today", "1 message of today"]


def test_what_comes_while_its_digest_is_on_its_way_is_sent_by_itself(
    site: Site, mailoutbox: list[EmailMultiAlternatives]
) -> None:
    chosen(site, once_a_day=True)
    told(site, NOON, "First")
    sweep_due(now=NOON)
    Reminder.objects.filter(kind=Kind.DIGEST).update(state=State.DONE, done_at=NOON)
    told(site, NOON, "Second")
    assert sweep_due(now=NOON).sent == 1
    assert [mail.subject for mail in mailoutbox] == ["Second"]


def test_news_of_tomorrow_is_kept_for_no_digest(site: Site, mailoutbox: list[EmailMultiAlternatives]) -> None:
    chosen(site, once_a_day=True)
    told(site, NOON, begins=NOON + timedelta(hours=20))
    sweep_due(now=NOON)
    assert len(mailoutbox) == 1


def test_a_mail_program_ends_a_kind_with_one_press(
    site: Site, mailoutbox: list[EmailMultiAlternatives]
) -> None:
    told(site, NOON)
    sweep_due(now=NOON)
    head = headers(mailoutbox[0])
    link = head["List-Unsubscribe"].strip("<>")
    assert head["List-Unsubscribe-Post"] == "List-Unsubscribe=One-Click"
    assert link in str(mailoutbox[0].body)
    address = link.removeprefix("http://localhost:8000")
    strict = Client(enforce_csrf_checks=True)
    assert strict.get(address).status_code == 200
    assert not MailChoices.objects.exists(), "opening a link changes nothing"
    assert strict.post(address, {"List-Unsubscribe": "One-Click"}).status_code == 200
    assert MailChoices.objects.get(user=site.member).off == ["rota"]
    line = AuditEvent.objects.get(action="end_mail")
    assert (line.actor_id, line.after) == (site.member.pk, {"off": ["rota"]})
    told(site, NOON + timedelta(hours=1))
    sweep_due(now=NOON + timedelta(hours=1))
    assert len(mailoutbox) == 1


def test_ending_a_digest_ends_all_that_it_holds(site: Site, mailoutbox: list[EmailMultiAlternatives]) -> None:
    chosen(site, once_a_day=True)
    told(site, NOON)
    sweep_due(now=NOON)
    assert end_mail(user=site.member, kind=Kind.DIGEST).off == ["rota", "shelf", "shift"]
    sweep_due(now=EVENING)
    assert not mailoutbox, "not even the one that was on its way"
    assert Reminder.objects.get(kind=Kind.DIGEST).state == State.DONE


def test_only_a_whole_link_ends_anything(site: Site) -> None:
    token = make_unsubscribe_link(site.member, Kind.ROTA).rpartition("/")[2]
    assert read_unsubscribe_link(token) == (site.member, Kind.ROTA)
    with pytest.raises(BadLink, match="not whole"):
        read_unsubscribe_link(token[:-1])
    assert Client().post(f"/u/{token[:-1]}x").status_code >= 400
    assert not MailChoices.objects.exists()


@pytest.mark.parametrize("kind", [Kind.SEAL_CHECK, Kind.SAFETY, Kind.GAUGE])
def test_safety_cannot_be_switched_off(site: Site, kind: Kind) -> None:
    with pytest.raises(BadSetting, match="safety"):
        end_mail(user=site.member, kind=kind)
    with pytest.raises(BadSetting, match="safety"):
        chosen(site, off=(kind,))
    assert not AuditEvent.objects.filter(action__in=("end_mail", "choose_mail")).exists()


def test_the_page_keeps_what_is_chosen_with_one_line_of_the_record(site: Site) -> None:
    client = signed_in(site.member)
    given = {"quiet_from": "22:00", "quiet_until": "07:00", "once_a_day": "on", "wanted": ["shift"]}
    assert client.post(PAGE, given).status_code == 302
    kept = MailChoices.objects.get(user=site.member)
    assert (kept.quiet_from, kept.quiet_until) == (time(22), time(7))
    assert (kept.once_a_day, kept.off) == (True, ["rota", "shelf"])
    assert AuditEvent.objects.filter(action="choose_mail", actor=site.member).count() == 1
    page = client.get(PAGE).content.decode()
    assert 'value="22:00"' in page
    assert page.count(" checked") == 2


@pytest.mark.parametrize(
    "given",
    [{"quiet_from": "22:00"}, {"quiet_from": "07:00", "quiet_until": "07:00"}, {"quiet_from": "late"}],
)
def test_hours_that_cannot_be_are_refused_and_nothing_is_lost(site: Site, given: dict[str, str]) -> None:
    answer = signed_in(site.member).post(PAGE, {**given, "wanted": ["shift"]})
    assert answer.status_code == 422
    assert f'value="{given["quiet_from"]}"' in answer.content.decode()
    assert not AuditEvent.objects.filter(action="choose_mail").exists()


def test_the_page_is_for_people_who_are_signed_in() -> None:
    assert Client().get(PAGE).status_code == 302
