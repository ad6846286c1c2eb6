"""The secret address of a feed: who may read it, until when, and what it costs to ask again."""

from __future__ import annotations

from datetime import UTC, datetime, timedelta
from hashlib import sha256
from uuid import uuid4

import pytest
from django.db import IntegrityError, transaction
from django.test import Client
from django.utils import timezone

from kitchen.audit.queries import about
from kitchen.calendars.actions import create_feed, new_address, note_fetch, revoke_feed, rotate_feed
from kitchen.calendars.models import Feed, FeedKind
from kitchen.calendars.queries import feeds_of
from kitchen.errors import AlreadyDecided, BadSetting, NotAllowed
from kitchen.members.models import Kitchen, Membership, Role, User
from kitchen.planning.models import Load
from tests.factories.loads import load_of_one, make_canner, make_kitchen, make_member

pytestmark = pytest.mark.django_db

HOST = "http://localhost:8000"


@pytest.fixture
def load() -> Load:
    return load_of_one()


@pytest.fixture
def kitchen(load: Load) -> Kitchen:
    return load.harvest_day.kitchen


@pytest.fixture
def member(load: Load) -> User:
    return load.portions.get().batch.member


def path_of(address: str) -> str:
    """The part of an address that a test client asks for."""
    assert address.startswith(HOST)
    return address.removeprefix(HOST)


@pytest.fixture
def path(kitchen: Kitchen, member: User) -> str:
    return path_of(create_feed(user=member, kitchen=kitchen, kind=FeedKind.MEMBER).address)


def test_whoever_has_the_address_reads_the_feed_without_signing_in(client: Client, path: str) -> None:
    answer = client.get(path)
    assert (answer.status_code, answer.headers["Content-Type"]) == (200, "text/calendar; charset=utf-8")
    assert answer.content.startswith(b"BEGIN:VCALENDAR\r\n")
    assert b"SUMMARY:My jars: 7 quart jars of Green beans" in answer.content.replace(b"\r\n ", b"")
    assert answer.headers["Cache-Control"] == "private, no-cache"
    assert answer.headers["X-Robots-Tag"] == "noindex"
    assert answer.headers["Referrer-Policy"] == "no-referrer"
    for absent in ("Last-Modified", "Set-Cookie", "Content-Disposition"):
        assert absent not in answer.headers


def test_unchanged_data_gives_the_same_bytes_and_304(client: Client, path: str, load: Load) -> None:
    first, second = client.get(path), client.get(path)
    assert first.content == second.content
    assert first.headers["ETag"] == f'"{sha256(first.content).hexdigest()}"'
    again = client.get(path, headers={"If-None-Match": first.headers["ETag"]})
    assert (again.status_code, again.content) == (304, b"")
    assert again.headers["ETag"] == first.headers["ETag"]
    assert again.headers["X-Robots-Tag"] == "noindex"
    Load.objects.filter(pk=load.pk).update(lot_code="another", sequence=1)
    assert client.get(path, headers={"If-None-Match": first.headers["ETag"]}).status_code == 200


def test_a_client_that_knows_only_dates_always_gets_the_whole_feed(client: Client, path: str) -> None:
    tomorrow = "Fri, 01 Jan 2100 00:00:00 GMT"
    assert client.get(path, headers={"If-Modified-Since": tomorrow}).status_code == 200


def test_head_says_what_get_would(client: Client, path: str) -> None:
    head, get = client.head(path), client.get(path)
    assert (head.status_code, head.content, head.headers["ETag"]) == (200, b"", get.headers["ETag"])


def test_a_feed_cannot_be_written_to(client: Client, path: str) -> None:
    assert client.post(path).status_code == 405


@pytest.mark.parametrize(
    "secret", ["x", "A" * 43, "5f0c3c3e-7c5b-4bb3-9d2e-0a9f5a2b8a11", "..%2f..%2fetc", "%00", "ü"]
)
def test_an_address_that_nobody_was_given_is_not_found(client: Client, secret: str) -> None:
    assert client.get(f"/feeds/{secret}.ics").status_code == 404


def test_a_revoked_address_is_not_found(client: Client, path: str, member: User) -> None:
    revoke_feed(feed=Feed.objects.get(), actor=member)
    answer = client.get(path)
    assert (answer.status_code, answer.content) == (404, b"Not found.\n")
    assert answer.headers["X-Robots-Tag"] == "noindex"


def test_a_member_who_left_is_locked_out_at_once(client: Client, path: str, member: User) -> None:
    assert client.get(path).status_code == 200
    Membership.objects.filter(user=member).update(left_at=timezone.now())
    assert client.get(path).status_code == 404


def test_a_person_who_may_not_sign_in_is_locked_out_at_once(client: Client, path: str, member: User) -> None:
    User.objects.filter(pk=member.pk).update(is_active=False)
    assert client.get(path).status_code == 404


def test_every_failure_looks_the_same(client: Client, path: str, member: User) -> None:
    unknown = client.get(f"/feeds/{'A' * 43}.ics")
    revoke_feed(feed=Feed.objects.get(), actor=member)
    revoked = client.get(path)
    assert (unknown.content, dict(unknown.headers)) == (revoked.content, dict(revoked.headers))


def test_a_new_address_ends_the_old_one(client: Client, path: str, member: User) -> None:
    new = rotate_feed(feed=Feed.objects.get(), actor=member)
    assert [client.get(one).status_code for one in (path, path_of(new.address))] == [404, 200]


def test_only_the_digest_of_a_secret_is_kept(path: str) -> None:
    secret = path.removeprefix("/feeds/").removesuffix(".ics")
    assert len(secret) == 43, "32 bytes in base64"
    row = Feed.objects.values().get()
    assert row["digest"] == sha256(secret.encode()).hexdigest()
    assert secret not in str(row)
    assert [event.after for event in about(Feed.objects.get())] == [{"kind": "member"}]


def test_one_address_stands_for_each_calendar(path: str, kitchen: Kitchen, member: User) -> None:
    with pytest.raises(AlreadyDecided, match="You have an address"):
        create_feed(user=member, kitchen=kitchen, kind=FeedKind.MEMBER)
    create_feed(user=member, kitchen=kitchen, kind=FeedKind.DAYS)
    assert {feed.kind for feed in feeds_of(member, kitchen)} == {FeedKind.MEMBER, FeedKind.DAYS}
    twin = Feed(user=member, kitchen=kitchen, kind=FeedKind.DAYS, digest="0" * 64)
    with pytest.raises(IntegrityError), transaction.atomic():
        twin.save()


def test_a_revoked_address_stays_revoked(path: str, member: User) -> None:
    feed = Feed.objects.get()
    revoke_feed(feed=feed, actor=member)
    with pytest.raises(AlreadyDecided):
        revoke_feed(feed=feed, actor=member)
    with pytest.raises(AlreadyDecided):
        rotate_feed(feed=feed, actor=member)


def test_a_lead_may_end_anybody_s_address_and_a_member_only_their_own(path: str, kitchen: Kitchen) -> None:
    feed = Feed.objects.get()
    with pytest.raises(NotAllowed):
        revoke_feed(feed=feed, actor=make_member(kitchen))
    revoke_feed(feed=feed, actor=make_member(kitchen, "Lead", Role.LEAD))
    assert Feed.objects.get().revoked_at is not None


def test_a_stranger_gets_no_address(kitchen: Kitchen) -> None:
    with pytest.raises(NotAllowed):
        create_feed(user=make_member(make_kitchen()), kitchen=kitchen, kind=FeedKind.DAYS)


def test_use_is_noted_at_most_once_an_hour(path: str) -> None:
    feed = Feed.objects.get()
    noon = datetime(2026, 9, 12, 12, tzinfo=UTC)
    noted = []
    for minutes in (0, 59, 60, 61):
        note_fetch(feed=feed, now=noon + timedelta(minutes=minutes))
        feed.refresh_from_db()
        noted.append(feed.last_fetched_at)
    assert noted == [noon, noon, noon + timedelta(hours=1), noon + timedelta(hours=1)]


def test_a_harvest_day_can_be_taken_along_as_a_file(client: Client, load: Load, member: User) -> None:
    day = load.harvest_day
    client.force_login(member)
    answer = client.get(f"/days/{day.uuid}.ics")
    assert (answer.status_code, answer.headers["Content-Type"]) == (200, "text/calendar; charset=utf-8")
    name = f"{day.kitchen.slug}-2026-09-12.ics"
    assert answer.headers["Content-Disposition"] == f'attachment; filename="{name}"'
    assert b"BEGIN:VEVENT" in answer.content


def test_the_file_of_a_day_is_for_the_kitchen_s_own_people(client: Client, load: Load) -> None:
    address = f"/days/{load.harvest_day.uuid}.ics"
    assert client.get(address).status_code == 302
    client.force_login(make_member(make_kitchen()))
    assert client.get(address).status_code == 404
    assert client.get(f"/days/{uuid4()}.ics").status_code == 404


def test_a_canner_s_calendar_names_its_canner_and_no_other_does(
    kitchen: Kitchen, member: User, load: Load
) -> None:
    foreign = load_of_one().canner
    for kind, canner in ((FeedKind.CANNER, None), (FeedKind.ROTA, load.canner), (FeedKind.CANNER, foreign)):
        with pytest.raises(BadSetting):
            create_feed(user=member, kitchen=kitchen, kind=kind, canner=canner)
        if canner != foreign:
            with pytest.raises(IntegrityError), transaction.atomic():
                Feed.objects.create(kitchen=kitchen, user=member, kind=kind, canner=canner, digest="1" * 64)
    assert not feeds_of(member, kitchen)


def test_each_canner_has_an_address_of_its_own_and_a_new_one_ends_only_its_own(
    client: Client, kitchen: Kitchen, member: User, load: Load
) -> None:
    other = make_canner(kitchen)
    made = [
        new_address(user=member, kitchen=kitchen, kind=FeedKind.CANNER, canner=canner)
        for canner in (load.canner, other, load.canner)
    ]
    answers = [client.get(path_of(one.address)).status_code for one in made]
    assert answers == [404, 200, 200]
    twin = Feed(kitchen=kitchen, user=member, kind=FeedKind.CANNER, canner=other, digest="2" * 64)
    with pytest.raises(IntegrityError), transaction.atomic():
        twin.save()
    with pytest.raises(AlreadyDecided):
        create_feed(user=member, kitchen=kitchen, kind=FeedKind.CANNER, canner=other)


@pytest.mark.parametrize("kind", [FeedKind.ROTA, FeedKind.CANNER])
def test_the_kitchen_s_calendars_end_with_membership(
    client: Client, kitchen: Kitchen, member: User, load: Load, kind: FeedKind
) -> None:
    canner = load.canner if kind == FeedKind.CANNER else None
    path = path_of(new_address(user=member, kitchen=kitchen, kind=kind, canner=canner).address)
    assert client.get(path).status_code == 200
    Membership.objects.filter(user=member).update(left_at=timezone.now())
    assert client.get(path).status_code == 404
