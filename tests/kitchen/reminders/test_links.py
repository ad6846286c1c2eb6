"""A link leads to one form, for one person, for a week."""

from __future__ import annotations

from datetime import timedelta
from uuid import uuid4

import pytest
from django.core import signing
from django.utils import timezone

from kitchen.errors import BadLink
from kitchen.members.models import Membership, User
from kitchen.planning.models import LoadPortion
from kitchen.reminders.links import SealCheckLink, make_link, make_token, read_link
from tests.factories.loads import load_of_one

pytestmark = pytest.mark.django_db


@pytest.fixture
def portion() -> LoadPortion:
    return load_of_one().portions.get()


@pytest.fixture
def member(portion: LoadPortion) -> User:
    return portion.batch.member


def test_a_link_leads_back_to_its_portion_and_person(portion: LoadPortion, member: User) -> None:
    address = make_link(portion, member)
    start, token = address[: len("http://localhost:8000/s/")], address[len("http://localhost:8000/s/") :]
    assert start == "http://localhost:8000/s/"
    assert read_link(token) == SealCheckLink(portion=portion, user=member)


def test_a_link_runs_out(portion: LoadPortion, member: User) -> None:
    with pytest.raises(BadLink, match="has run out"):
        read_link(make_token(portion, member), life=timedelta(seconds=-1))


def test_a_link_that_was_changed_anywhere_is_refused(portion: LoadPortion, member: User) -> None:
    token = make_token(portion, member)
    for place in range(len(token)):
        changed = token[:place] + ("A" if token[place] != "A" else "B") + token[place + 1 :]
        # The last sign of a base64 text may hold bits that count for nothing.
        if place != len(token) - 1:
            with pytest.raises(BadLink):
                read_link(changed)
    for broken in ("", "x", token[:-2], token + "A"):
        with pytest.raises(BadLink):
            read_link(broken)


def test_a_signature_made_for_something_else_is_refused(portion: LoadPortion, member: User) -> None:
    named = {"portion": str(portion.uuid), "user": str(member.uuid)}
    with pytest.raises(BadLink):
        read_link(signing.dumps(named, salt="something else"))


def test_a_link_of_a_person_who_left_is_refused(portion: LoadPortion, member: User) -> None:
    token = make_token(portion, member)
    Membership.objects.filter(user=member).update(left_at=timezone.now())
    with pytest.raises(BadLink, match="not this person's any more"):
        read_link(token)


def test_a_link_of_a_person_who_may_not_sign_in_is_refused(portion: LoadPortion, member: User) -> None:
    token = make_token(portion, member)
    User.objects.filter(pk=member.pk).update(is_active=False)
    with pytest.raises(BadLink):
        read_link(token)


def test_a_link_to_jars_that_are_gone_is_refused(portion: LoadPortion, member: User) -> None:
    token = make_token(portion, member)
    LoadPortion.objects.filter(pk=portion.pk).update(uuid=uuid4())
    with pytest.raises(BadLink):
        read_link(token)
