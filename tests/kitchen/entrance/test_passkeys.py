"""Passkeys: who may add one, whom it lets in, and every way in which an answer does not hold."""

from __future__ import annotations

import json
import logging
from collections.abc import Callable
from datetime import UTC, datetime, timedelta
from html import unescape
from secrets import token_bytes

import pytest
from django.test import Client, override_settings
from django.urls import reverse
from django.utils import timezone
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st

from kitchen.audit.models import AuditEvent
from kitchen.entrance.models import Passkey
from kitchen.entrance.passkey_views import HOLDS_SECONDS
from kitchen.entrance.passkeys import (
    MOST_PASSKEYS,
    add_passkey,
    check_may_add,
    remove_passkey,
    sign_in_by_passkey,
)
from kitchen.entrance.protocol import LONGEST_ANSWER, ask_for_new, check_new, read_answer
from kitchen.errors import BadSetting, KitchenError, NotAllowed
from kitchen.export.writing import data_of
from kitchen.members.actions import add_member, end_membership
from kitchen.members.models import Role, User
from tests.factories.authenticator import PRESENT, Authenticator, bytes_of, text_of
from tests.factories.sites import Site, make_site
from tests.factories.walks import signed_in
from tests.kitchen.entrance.conftest import PASSWORD

pytestmark = pytest.mark.django_db

NOW = datetime(2026, 9, 12, 10, tzinfo=UTC)


def challenge_of() -> str:
    return text_of(token_bytes(32))


def added(user: User, device: Authenticator | None = None, name: str = "Telephone") -> Authenticator:
    device = device or Authenticator()
    device.user_handle = user.uuid.bytes
    challenge = challenge_of()
    add_passkey(user=user, name=name, answer=device.make(challenge), challenge=challenge, now=NOW)
    return device


def signed_by(device: Authenticator, challenge: str = "") -> User:
    challenge = challenge or challenge_of()
    return sign_in_by_passkey(answer=device.sign(challenge), challenge=challenge, now=NOW)


def test_a_passkey_lets_its_person_in_again_and_again(member: User) -> None:
    device = added(member)
    assert [signed_by(device) for _ in range(2)] == [member, member]
    kept = Passkey.objects.get()
    assert (kept.name, kept.sign_count, kept.last_used_at) == ("Telephone", 2, NOW)
    lines = AuditEvent.objects.order_by("id").values_list("action", "actor_id", "object_id")
    of_it = (member.pk, str(kept.pk))
    assert [*lines] == [
        ("add_passkey", *of_it),
        ("sign_in_by_passkey", *of_it),
        ("sign_in_by_passkey", *of_it),
    ]


def test_one_that_never_counts_is_let_in_too(member: User) -> None:
    device = added(member, Authenticator(counts=False))
    assert [signed_by(device) for _ in range(2)] == [member, member]


WRONG: dict[str, Callable[[Authenticator], object]] = {
    "another origin": lambda device: setattr(device, "origin", "https://elsewhere.example"),
    "another port": lambda device: setattr(device, "origin", "http://localhost:8001"),
    "without TLS's other name": lambda device: setattr(device, "origin", "https://localhost:8000"),
    "another kitchen's name": lambda device: setattr(device, "host", "elsewhere.example"),
    "nobody made sure of": lambda device: setattr(device, "flags", PRESENT),
    "nobody there": lambda device: setattr(device, "flags", 0x04),
}


@pytest.mark.parametrize("what", WRONG)
def test_an_answer_made_elsewhere_or_of_nobody_does_not_hold(member: User, what: str) -> None:
    device = added(member)
    WRONG[what](device)
    with pytest.raises(NotAllowed, match="does not hold here"):
        signed_by(device)
    new = Authenticator()
    WRONG[what](new)
    with pytest.raises(NotAllowed, match="does not hold here"):
        added(member, new, "Tablet")
    assert Passkey.objects.get().sign_count == 0


def test_an_answer_holds_for_its_own_challenge_alone(member: User) -> None:
    device, challenge = added(member), challenge_of()
    with pytest.raises(NotAllowed, match="does not hold here"):
        sign_in_by_passkey(answer=device.sign(challenge), challenge=challenge_of(), now=NOW)
    with pytest.raises(NotAllowed, match="does not hold here"):
        check_new(Authenticator().make(challenge), challenge_of())
    # What was made to be added signs nobody in, and the other way round.
    with pytest.raises(NotAllowed):
        sign_in_by_passkey(answer=device.make(challenge), challenge=challenge, now=NOW)
    with pytest.raises(NotAllowed):
        check_new(device.sign(challenge), challenge)


def test_another_key_under_its_name_signs_nobody_in(member: User) -> None:
    device = added(member)
    forger = Authenticator(credential_id=device.credential_id, user_handle=device.user_handle)
    with pytest.raises(NotAllowed, match="does not hold here"):
        signed_by(forger)


def test_it_never_lets_in_as_somebody_else(site: Site) -> None:
    device = added(site.member)
    device.user_handle = site.lead.uuid.bytes
    with pytest.raises(NotAllowed, match="not known here"):
        signed_by(device)
    device.user_handle = b""
    with pytest.raises(NotAllowed, match="not known here"):
        signed_by(device)


def test_an_unknown_or_removed_one_and_whoever_is_locked_out_are_refused(site: Site) -> None:
    with pytest.raises(NotAllowed, match="not known here"):
        signed_by(Authenticator(user_handle=site.member.uuid.bytes))
    device = added(site.member)
    remove_passkey(passkey=Passkey.objects.get(), actor=site.member)
    with pytest.raises(NotAllowed, match="not known here"):
        signed_by(device)
    line = AuditEvent.objects.get(action="remove_passkey")
    assert (line.actor_id, line.before["name"]) == (site.member.pk, "Telephone")
    other = added(site.other)
    User.objects.filter(pk=site.other.pk).update(is_active=False)
    with pytest.raises(NotAllowed, match="not known here"):
        signed_by(other)


@pytest.mark.parametrize("count", [4, 5])
def test_a_counter_that_went_back_or_stood_still_is_a_copy(
    member: User, count: int, caplog: pytest.LogCaptureFixture
) -> None:
    device = added(member)
    device.count = 4
    signed_by(device)
    device.count = count - 1
    caplog.set_level(logging.WARNING)
    with pytest.raises(NotAllowed, match="Telephone may have been copied") as refused:
        signed_by(device)
    assert "remove it" in refused.value.remedy
    assert "passkey_copied" in caplog.text
    kept = Passkey.objects.get()
    assert kept.sign_count == 5
    assert AuditEvent.objects.filter(action="sign_in_by_passkey").count() == 1
    device.count = 0
    device.counts = False
    with pytest.raises(NotAllowed, match="copied"):
        signed_by(device)


def test_nobody_adds_a_passkey_that_somebody_has(site: Site) -> None:
    device = added(site.member)
    for user in (site.member, site.other):
        with pytest.raises(BadSetting, match="known here already"):
            added(user, device, "Again")
    assert Passkey.objects.get().user == site.member
    assert signed_by(Authenticator(**{**vars(device), "user_handle": site.member.uuid.bytes})) == site.member


def test_nobody_removes_anothers(site: Site) -> None:
    added(site.member)
    passkey = Passkey.objects.get()
    with pytest.raises(NotAllowed):
        remove_passkey(passkey=passkey, actor=site.lead)
    assert signed_in(site.lead).post(remove_address(passkey)).status_code == 404
    assert Passkey.objects.count() == 1


def remove_address(passkey: Passkey) -> str:
    return reverse("entrance:remove-passkey", args=[passkey.uuid])


def test_whoever_adds_one_knows_the_password_and_has_room_for_it(member: User) -> None:
    with pytest.raises(NotAllowed, match="not your password"):
        check_may_add(user=member, name="Telephone", password="wrong")  # noqa: S106
    check_may_add(user=member, name="Telephone", password=PASSWORD)
    for number in range(MOST_PASSKEYS - 1):
        added(member, name=f"Key {number}")
    with pytest.raises(BadSetting, match="called Key 0"):
        check_may_add(user=member, name="Key 0", password=PASSWORD)
    added(member, name="The last")
    with pytest.raises(BadSetting, match=f"You have {MOST_PASSKEYS}"):
        check_may_add(user=member, name="One more", password=PASSWORD)


def test_the_question_names_what_is_there_and_wants_its_person_made_sure_of(member: User) -> None:
    device = added(member)
    asked = json.loads(ask_for_new(member).options)
    assert [one["id"] for one in asked["excludeCredentials"]] == [text_of(device.credential_id)]
    assert asked["rp"]["id"] == "localhost"
    assert asked["user"]["id"] == text_of(member.uuid.bytes)
    chosen = asked["authenticatorSelection"]
    assert (chosen["residentKey"], chosen["userVerification"]) == ("required", "required")


def test_whoever_leaves_the_last_kitchen_keeps_none(site: Site) -> None:
    elsewhere = make_site()
    again = add_member(
        kitchen=elsewhere.kitchen,
        email=site.member.email,
        display_name="",
        role=Role.MEMBER,
        actor=elsewhere.lead,
    )
    added(site.member)
    added(site.other)
    end_membership(membership=site.member.memberships.get(kitchen=site.kitchen), actor=site.lead)
    assert Passkey.objects.filter(user=site.member).count() == 1
    end_membership(membership=again, actor=elsewhere.lead)
    assert [one.user for one in Passkey.objects.all()] == [site.other]
    assert AuditEvent.objects.filter(action="remove_passkey", actor=elsewhere.lead).count() == 1


def test_ones_own_data_name_them_without_the_keys(site: Site) -> None:
    device = added(site.member)
    added(site.other, name="Not mine")
    told = data_of(site.member)["my_passkeys"]
    assert [one["name"] for one in told] == ["Telephone"]
    kept = Passkey.objects.get(user=site.member)
    assert text_of(device.credential_id) not in str(told)
    assert kept.public_key not in str(told)


# --- The pages ----------------------------------------------------------------------------------------------


def question(client: Client, page: str, **sent: str) -> str:
    answer = client.post(reverse(page), sent)
    assert answer.status_code == 200, answer.content
    return str(answer.json()["challenge"])


def add_on_page(client: Client, device: Authenticator, user: User) -> int:
    device.user_handle = user.uuid.bytes
    challenge = question(client, "entrance:begin-adding", name="Telephone", password=PASSWORD)
    return client.post(reverse("entrance:passkeys"), {"answer": device.make(challenge)}).status_code


def test_it_is_added_listed_used_and_removed_on_pages(member: User) -> None:
    client, device = signed_in(member), Authenticator()
    assert add_on_page(client, device, member) == 302
    assert "Telephone" in client.get(reverse("entrance:passkeys")).content.decode()
    visitor = Client()
    challenge = question(visitor, "entrance:begin-passkey")
    key = visitor.session.session_key
    answer = visitor.post(
        reverse("entrance:sign-in-by-passkey"), {"answer": device.sign(challenge), "next": "/about-me/"}
    )
    assert (answer.status_code, answer["Location"]) == (302, "/about-me/")
    assert visitor.session["_auth_user_id"] == str(member.pk)
    assert visitor.session.session_key != key
    assert client.post(remove_address(Passkey.objects.get())).status_code == 302
    challenge = question(visitor := Client(), "entrance:begin-passkey")
    refused = visitor.post(reverse("entrance:sign-in-by-passkey"), {"answer": device.sign(challenge)})
    assert refused.status_code == 403
    assert "not known here" in refused.content.decode()
    assert "_auth_user_id" not in visitor.session


def test_an_answer_that_is_sent_again_finds_no_question(member: User) -> None:
    device, visitor = added(member), Client()
    challenge = question(visitor, "entrance:begin-passkey")
    sent = {"answer": device.sign(challenge)}
    thief = Client()
    assert thief.post(reverse("entrance:sign-in-by-passkey"), sent).status_code == 403
    question(thief, "entrance:begin-passkey")
    assert thief.post(reverse("entrance:sign-in-by-passkey"), sent).status_code == 403
    # Wrong once, and the question is gone.
    assert visitor.post(reverse("entrance:sign-in-by-passkey"), {"answer": "{}"}).status_code == 403
    again = visitor.post(reverse("entrance:sign-in-by-passkey"), sent)
    assert again.status_code == 403
    assert "sent twice" in again.content.decode()


def test_a_question_for_one_thing_answers_no_other(member: User) -> None:
    client, device = signed_in(member), Authenticator(user_handle=member.uuid.bytes)
    challenge = question(client, "entrance:begin-passkey")
    answer = client.post(reverse("entrance:passkeys"), {"answer": device.make(challenge)})
    assert answer.status_code == 422
    challenge = question(client, "entrance:begin-adding", name="Telephone", password=PASSWORD)
    device = added(member)
    answer = client.post(reverse("entrance:sign-in-by-passkey"), {"answer": device.sign(challenge)})
    assert answer.status_code == 403


def test_a_question_is_soon_over(member: User, monkeypatch: pytest.MonkeyPatch) -> None:
    device, visitor = added(member), Client()
    challenge = question(visitor, "entrance:begin-passkey")
    later = timezone.now() + timedelta(seconds=HOLDS_SECONDS)
    monkeypatch.setattr("django.utils.timezone.now", lambda: later)
    answer = visitor.post(reverse("entrance:sign-in-by-passkey"), {"answer": device.sign(challenge)})
    assert answer.status_code == 403
    assert "too long" in answer.content.decode()


def test_a_wrong_password_gets_no_question(member: User) -> None:
    client = signed_in(member)
    for sent, words in (
        ({"name": "Telephone", "password": "wrong"}, "This is not your password. Type it again."),
        ({"name": "", "password": PASSWORD}, "What you call it, such as the device: This field is required."),
    ):
        answer = client.post(reverse("entrance:begin-adding"), sent)
        assert (answer.status_code, answer.json()) == (422, {"refusal": words})
    assert client.post(reverse("entrance:passkeys"), {"answer": "{}"}).status_code == 422


def test_passkeys_cannot_be_tried_for_long(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr("time.time", lambda: 1_800_000_100.0)
    visitor = Client()
    tried = [visitor.post(reverse("entrance:sign-in-by-passkey"), {"answer": "x"}) for _ in range(31)]
    assert [one.status_code for one in tried] == [403] * 30 + [429]


ODD: tuple[object, ...] = (None, 7, "", [], {}, "A", "AA", "AAAA" * 300, "😀", [[[]]])


def test_no_answer_whatsoever_breaks_the_program(member: User) -> None:
    """Whatever is cut, repeated or put in the wrong place is refused, and never a fault."""
    device, challenge = added(member), challenge_of()
    made, signed = Authenticator().make(challenge), device.sign(challenge)

    def refused(answer: str) -> None:
        for ask in (
            lambda: check_new(answer, challenge),
            lambda: sign_in_by_passkey(answer=answer, challenge=challenge, now=NOW),
        ):
            with pytest.raises(KitchenError):
                ask()

    for whole in (made, signed):
        told = json.loads(whole)
        for holder in (told, told["response"]):
            for name, kept in list(holder.items()):
                for other in ODD:
                    holder[name] = other
                    if json.dumps(told) != whole:
                        refused(json.dumps(told))
                holder[name] = kept
    for words in ("", "7", "null", "[" * 19_000, "x" * (LONGEST_ANSWER + 1), '{"id":' * 3_000, "\x00"):
        refused(words)
        with pytest.raises(KitchenError):
            read_answer(words)


@settings(max_examples=150, suppress_health_check=[HealthCheck.function_scoped_fixture])
@given(data=st.data())
def test_no_changed_byte_breaks_the_program(member: User, data: st.DataObject) -> None:
    """A byte changed anywhere in what was signed is refused; in what was made, it is refused or a passkey like any."""
    challenge = challenge_of()
    device = Authenticator()
    told = json.loads(device.make(challenge))
    part = data.draw(st.sampled_from(["clientDataJSON", "attestationObject"]))
    raw = bytearray(bytes_of(told["response"][part]))
    place = data.draw(st.integers(0, len(raw) - 1))
    raw[place] = data.draw(st.integers(0, 255))
    told["response"][part] = text_of(bytes(raw))
    try:
        check_new(json.dumps(told), challenge)
    except NotAllowed:
        return


def test_the_pages_say_for_which_address_passkeys_hold(member: User) -> None:
    with override_settings(KITCHEN_URL="https://jars.example"):
        pages = Client().get("/sign-in/"), signed_in(member).get("/passkeys/")
    for page in pages:
        told = unescape(page.content.decode())
        assert "Passkeys work only at the kitchen's own address, https://jars.example. " in told
        assert "The kitchen's own address is https://jars.example. " in told
