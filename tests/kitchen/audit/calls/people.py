"""Calls of what is done to people, their ways in, their wishes, calendars and messages."""

from __future__ import annotations

from datetime import date, time, timedelta

from django.contrib.auth.tokens import default_token_generator
from django.utils import timezone

from kitchen.api.actions import make_token, revoke_token
from kitchen.api.models import Scope
from kitchen.calendars.actions import create_feed, new_address, revoke_feed, rotate_feed
from kitchen.calendars.models import FeedKind
from kitchen.entrance.codes import ask_for_code, make_due_code, sign_in_by_code
from kitchen.entrance.models import Passkey
from kitchen.entrance.passkeys import add_passkey, forget_passkeys, remove_passkey, sign_in_by_passkey
from kitchen.export.actions import export_kitchen
from kitchen.helping.actions import follow_address, forget_calendar, read_again, set_wishes, take_file
from kitchen.members.actions import (
    add_member,
    change_age,
    change_policy,
    change_role,
    change_site,
    choose_writing,
    confirm_process,
    create_kitchen,
    end_membership,
    open_kitchen,
    set_opening_hours,
    withdraw_process,
)
from kitchen.members.models import Membership, Role, User
from kitchen.members.signing_in import accept_invitation, invite, set_password
from kitchen.members.trainings import record_food_training, record_training
from kitchen.reminders.actions import see_notice
from kitchen.reminders.choosing import choose_mail, end_mail
from kitchen.reminders.models import Kind, Notice
from tests.factories.authenticator import Authenticator, text_of
from tests.factories.furnished import Furnished
from tests.factories.sites import Site
from tests.kitchen.audit.calls.leaving import Deed, leaves

PASSWORD = "three jars of plums"  # noqa: S105  # Of a test.
CHALLENGE = text_of(b"a challenge of thirty-two bytes.")
ADDRESS = "https://dates.example/mine.ics"
EMPTY = b"BEGIN:VCALENDAR\r\nVERSION:2.0\r\nPRODID:-//tests//EN\r\nEND:VCALENDAR\r\n"


def of(site: Site, user: User) -> Membership:
    return Membership.objects.get(kitchen=site.kitchen, user=user)


def with_password(user: User) -> User:
    user.set_password(PASSWORD)
    user.save()
    return user


def passkey(user: User) -> tuple[Authenticator, Passkey]:
    device = Authenticator(user_handle=user.uuid.bytes)
    added = add_passkey(
        user=user, name="Key", answer=device.make(CHALLENGE), challenge=CHALLENGE, now=timezone.now()
    )
    return device, added


@leaves("members.actions.create_kitchen", "create_kitchen", "add_member", why="Its first lead joins it.")
def _(site: Site) -> Deed:
    return lambda: create_kitchen(
        name="A", slug="a", site_code="AA", altitude_ft=0, time_zone="UTC", lead=site.member
    )


@leaves("members.actions.open_kitchen", "create_kitchen", "add_member", why="Its first lead joins it.")
def _(site: Site) -> Deed:
    return lambda: open_kitchen(
        name="A",
        site_code="AA",
        altitude_ft=0,
        time_zone="UTC",
        lead_name="Ada",
        lead_email="ada@a.example",
    )


@leaves("members.actions.change_site", "change_site")
def _(site: Site) -> Deed:
    return lambda: change_site(
        kitchen=site.kitchen, altitude_ft=10, time_zone="America/Denver", actor=site.lead
    )


@leaves("members.actions.change_policy", "change_policy")
def _(site: Site) -> Deed:
    return lambda: change_policy(kitchen=site.kitchen, changes={"prep_hands": 3}, actor=site.lead)


@leaves("members.actions.set_opening_hours", "set_opening_hours")
def _(site: Site) -> Deed:
    hours = [(time(8), time(10)), (time(12), time(14))]
    return lambda: set_opening_hours(kitchen=site.kitchen, weekday=1, hours=hours, actor=site.lead)


@leaves("members.actions.add_member", "add_member")
def _(site: Site) -> Deed:
    return lambda: add_member(
        kitchen=site.kitchen,
        email="ada@a.example",
        display_name="Ada",
        role=Role.MEMBER,
        actor=site.lead,
    )


@leaves("members.actions.choose_writing", "choose_writing")
def _(site: Site) -> Deed:
    return lambda: choose_writing(user=site.member, language="es", units="metric")


@leaves("members.actions.change_role", "change_role")
def _(site: Site) -> Deed:
    return lambda: change_role(membership=of(site, site.member), role=Role.LEAD, actor=site.lead)


@leaves("members.actions.change_age", "change_age")
def _(site: Site) -> Deed:
    return lambda: change_age(membership=of(site, site.member), under_16=True, actor=site.lead)


@leaves("members.actions.end_membership", "end_membership")
def _(site: Site) -> Deed:
    return lambda: end_membership(membership=of(site, site.member), actor=site.lead)


@leaves("members.actions.confirm_process", "confirm_process")
def _(site: Site) -> Deed:
    return lambda: confirm_process(
        kitchen=site.kitchen, process_key="q", publication="A guide", actor=site.lead
    )


@leaves("members.actions.withdraw_process", "withdraw_process")
def _(site: Site) -> Deed:
    row = confirm_process(kitchen=site.kitchen, process_key="q", publication="A guide", actor=site.lead)
    return lambda: withdraw_process(confirmed=row, actor=site.lead)


@leaves("members.signing_in.invite", "invite")
def _(site: Site) -> Deed:
    site.member.set_unusable_password()
    site.member.save()
    return lambda: invite(membership=of(site, site.member), actor=site.lead)


@leaves("members.signing_in.accept_invitation", "set_password")
def _(site: Site) -> Deed:
    site.member.set_unusable_password()
    site.member.save()
    token = default_token_generator.make_token(site.member)
    return lambda: accept_invitation(user=site.member, token=token, password=PASSWORD)


@leaves("members.signing_in.set_password", "set_password")
def _(site: Site) -> Deed:
    return lambda: set_password(user=site.member, password=PASSWORD, actor=site.member)


@leaves("members.trainings.record_training", "record_training")
def _(site: Site) -> Deed:
    return lambda: record_training(
        membership=of(site, site.member), trained_on=date(2026, 1, 2), trained_by="Office", actor=site.lead
    )


@leaves("members.trainings.record_food_training", "record_food_training")
def _(site: Site) -> Deed:
    return lambda: record_food_training(
        membership=of(site, site.member), trained_on=date(2026, 1, 2), trained_by="Office", actor=site.lead
    )


@leaves("entrance.codes.make_due_code", "ask_for_code")
def _(site: Site) -> Deed:
    now = timezone.now()
    ask_for_code(email=with_password(site.member).email, language="en", now=now)
    return lambda: make_due_code(now=now)


@leaves("entrance.codes.sign_in_by_code", "sign_in_by_code")
def _(site: Site) -> Deed:
    now = timezone.now()
    asked = ask_for_code(email=with_password(site.member).email, language="en", now=now)
    letter = make_due_code(now=now)
    assert letter is not None
    return lambda: sign_in_by_code(asked=asked, code=letter.code, now=now)


@leaves("entrance.passkeys.add_passkey", "add_passkey")
def _(site: Site) -> Deed:
    return lambda: passkey(site.member)


@leaves("entrance.passkeys.remove_passkey", "remove_passkey")
def _(site: Site) -> Deed:
    _device, added = passkey(site.member)
    return lambda: remove_passkey(passkey=added, actor=site.member)


@leaves("entrance.passkeys.forget_passkeys", "remove_passkey")
def _(site: Site) -> Deed:
    passkey(site.member)
    return lambda: forget_passkeys(user=site.member, actor=site.lead)


@leaves("entrance.passkeys.sign_in_by_passkey", "sign_in_by_passkey")
def _(site: Site) -> Deed:
    device, _added = passkey(site.member)
    answer = device.sign(CHALLENGE)
    return lambda: sign_in_by_passkey(answer=answer, challenge=CHALLENGE, now=timezone.now())


@leaves("api.actions.make_token", "make_token")
def _(site: Site) -> Deed:
    return lambda: make_token(user=site.member, kitchen=site.kitchen, name="Tablet", scopes=[Scope.BOARD])


@leaves("api.actions.revoke_token", "revoke_token")
def _(site: Site) -> Deed:
    made = make_token(user=site.member, kitchen=site.kitchen, name="Tablet", scopes=[Scope.BOARD])
    return lambda: revoke_token(token=made.token, actor=site.member)


@leaves("calendars.actions.create_feed", "create_feed")
def _(site: Site) -> Deed:
    return lambda: create_feed(user=site.member, kitchen=site.kitchen, kind=FeedKind.MEMBER)


@leaves("calendars.actions.new_address", "create_feed")
def _(site: Site) -> Deed:
    return lambda: new_address(user=site.member, kitchen=site.kitchen, kind=FeedKind.MEMBER)


@leaves(
    "calendars.actions.rotate_feed",
    "revoke_feed",
    "create_feed",
    why="One address ends and another begins: two rows, each with its own beginning or end.",
)
def _(site: Site) -> Deed:
    made = create_feed(user=site.member, kitchen=site.kitchen, kind=FeedKind.MEMBER)
    return lambda: rotate_feed(feed=made.feed, actor=site.member)


@leaves("calendars.actions.revoke_feed", "revoke_feed")
def _(site: Site) -> Deed:
    made = create_feed(user=site.member, kitchen=site.kitchen, kind=FeedKind.MEMBER)
    return lambda: revoke_feed(feed=made.feed, actor=site.member)


@leaves("export.actions.export_kitchen", "export_kitchen")
def _(site: Site) -> Deed:
    return lambda: export_kitchen(kitchen=site.kitchen, actor=site.lead, now=timezone.now()).close()


@leaves("helping.actions.set_wishes", "set_wishes")
def _(site: Site) -> Deed:
    return lambda: set_wishes(
        membership=of(site, site.member),
        likes=set(),
        cannot=set(),
        most_minutes=120,
        comes_with=None,
        learning=False,
        actor=site.member,
    )


@leaves("helping.actions.take_file", "read_calendar")
def _(site: Site) -> Deed:
    return lambda: take_file(membership=of(site, site.member), name="a", data=EMPTY, actor=site.member)


@leaves("helping.actions.follow_address", "follow_address")
def _(site: Site) -> Deed:
    return lambda: follow_address(membership=of(site, site.member), address=ADDRESS, actor=site.member)


@leaves("helping.actions.read_again", "read_again")
def _(site: Site) -> Deed:
    now = timezone.now()
    kept = follow_address(membership=of(site, site.member), address=ADDRESS, actor=site.member, now=now)
    return lambda: read_again(calendar=kept, actor=site.member, now=now + timedelta(hours=1))


@leaves("helping.actions.forget_calendar", "forget_calendar")
def _(site: Site) -> Deed:
    kept = follow_address(membership=of(site, site.member), address=ADDRESS, actor=site.member)
    return lambda: forget_calendar(calendar=kept, actor=site.member)


@leaves("reminders.choosing.choose_mail", "choose_mail")
def _(site: Site) -> Deed:
    return lambda: choose_mail(
        user=site.member, quiet_from=time(22), quiet_until=time(7), once_a_day=True, off=()
    )


@leaves("reminders.choosing.end_mail", "end_mail")
def _(site: Site) -> Deed:
    return lambda: end_mail(user=site.member, kind=Kind.ROTA)


@leaves("reminders.actions.see_notice", "see_notice")
def _(at: Furnished) -> Deed:
    notice = Notice.objects.get(pk=at.named["notice"])
    return lambda: see_notice(notice=notice, actor=at.site.member)
