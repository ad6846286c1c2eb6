"""Programs are told what people are reminded of: signed, as often as it takes, and never at people's cost."""

from __future__ import annotations

import base64
import hmac
import json
import socket
import threading
from collections import Counter
from contextlib import closing
from datetime import datetime, timedelta
from hashlib import sha256
from uuid import uuid4

import pytest
from django.core import mail
from django.utils import timezone

from kitchen.audit.models import AuditEvent
from kitchen.errors import AlreadyDecided, BadAddress, BadSetting, NotAllowed
from kitchen.hooks import telling
from kitchen.hooks.actions import MadeHook, add_hook, end_hook, renew_secret, tell_again, try_hook
from kitchen.hooks.bridge import body_of, headers_of
from kitchen.hooks.models import Hook, Telling
from kitchen.hooks.rules import MOST_HOOKS
from kitchen.hooks.telling import Refused, post, tell_programs
from kitchen.http import outward
from kitchen.reminders.models import Kind, Reminder, State
from kitchen.reminders.rules import MOST_ATTEMPTS, PAUSES
from kitchen.reminders.sweeping import sweep_due
from tests.factories.canner_runs import Run, make_beans_out
from tests.factories.sites import Site, make_site

pytestmark = pytest.mark.django_db

ADDRESS = "https://wall.example/jars?key=hidden"
# The example of the specification *Standard Webhooks* 1.0: secret, id, time, body and what they are signed with.
VECTOR = (
    "whsec_MfKQ9r8GKYqrTwjUPD8ILPZIo2LaLaSw",
    "msg_p5jXN8AQM9LWM0D4loKWxJek",
    "1614265330",
    b'{"test": 2432232314}',
    "v1,g0hM9SsE+OTPJTGt/tmIKtSyZlE3uFJELVlNIOLJ1OE=",
)


def holds(secret: str, name: str, seconds: str, body: bytes, signature: str) -> bool:
    """Whether a receiver who follows the specification accepts the message."""
    key = base64.b64decode(secret.removeprefix("whsec_"))
    wanted = hmac.new(key, f"{name}.{seconds}.{body.decode()}".encode(), sha256).digest()
    version, _, given = signature.partition(",")
    return version == "v1" and hmac.compare_digest(base64.b64decode(given), wanted)


class Programs:
    """Programs outside that answer as they are told, and remember what they got."""

    def __init__(self, *answers: Refused | None) -> None:
        self.answers = list(answers)
        self.got: list[tuple[str, str, dict[str, object]]] = []

    def __call__(self, one: Telling, at: datetime) -> Refused | None:
        body = body_of(one)
        headers = headers_of(one, body, at)
        self.got.append((one.hook.address, headers["webhook-id"], json.loads(body)))
        return self.answers.pop(0) if self.answers else None


@pytest.fixture
def site() -> Site:
    return make_site()


@pytest.fixture
def made(site: Site) -> MadeHook:
    """An address given long before any jars come out."""
    made = add_hook(kitchen=site.kitchen, address=ADDRESS, actor=site.lead)
    Hook.objects.update(created_at=timezone.now() - timedelta(days=400))
    made.hook.refresh_from_db()
    return made


@pytest.fixture
def run(site: Site, made: MadeHook) -> Run:
    return make_beans_out(site)


def remind(run: Run, hours: float) -> datetime:
    """People are reminded of what is due so long after the jars came out; the time then."""
    out = run.fresh().jars_out_at
    assert out is not None
    now = out + timedelta(hours=hours)
    sweep_due(now=now)
    return now


def test_the_checker_of_this_test_follows_the_specification() -> None:
    assert holds(*VECTOR)
    assert not holds(*VECTOR[:3], b'{"test": 2432232315}', VECTOR[4])


def test_a_program_is_told_when_people_are_and_not_before(run: Run) -> None:
    programs = Programs()
    assert tell_programs(now=remind(run, 11.9), send=programs) == Counter()
    now = remind(run, 12)
    assert tell_programs(now=now, send=programs) == Counter({State.DONE: 1})
    assert tell_programs(now=now, send=programs) == Counter()
    now = remind(run, 24)
    assert tell_programs(now=now, send=programs) == Counter({State.DONE: 1})
    (first, _, early), (_, _, late) = programs.got
    assert first == ADDRESS
    assert (early["type"], late["type"]) == ("jars.first_call", "jars.seal_check")
    seal_check = Reminder.objects.get(kind=Kind.SEAL_CHECK, portion=run.portion)
    assert seal_check.reprocess_by is not None
    load = run.fresh()
    assert late["data"] == {
        "kitchen": str(run.site.kitchen.uuid),
        "reminder": str(seal_check.pk),
        "due_at": f"{seal_check.due_at:%Y-%m-%dT%H:%M:%SZ}",
        "jars_out_at": f"{load.jars_out_at:%Y-%m-%dT%H:%M:%SZ}",
        "process_again_by": f"{seal_check.reprocess_by:%Y-%m-%dT%H:%M:%SZ}",
        "lot_code": load.lot_code,
        "canner": load.canner.name,
        "jars": run.portion.jars,
        "jar": run.portion.batch.jar,
        "food": run.portion.batch.food_name,
        "on_hold": False,
        "page": f"http://localhost:8000/kitchens/{run.site.kitchen.slug}/jars/{run.portion.uuid}/",
    }


def test_no_message_names_a_person(run: Run) -> None:
    programs = Programs()
    tell_programs(now=remind(run, 24), send=programs)
    member = run.site.member
    for _, _, told in programs.got:
        assert not any(
            word in json.dumps(told) for word in (member.display_name, member.email, str(member.uuid))
        )


def test_a_receiver_accepts_the_signature_and_no_other(run: Run, made: MadeHook) -> None:
    now = remind(run, 12)
    tell_programs(now=now, send=Programs())
    one = Telling.objects.get()
    body = body_of(one)
    headers = headers_of(one, body, now)
    parts = (headers["webhook-id"], headers["webhook-timestamp"], body, headers["webhook-signature"])
    assert holds(made.secret, *parts)
    assert int(headers["webhook-timestamp"]) == int(now.timestamp())
    another = renew_secret(hook=made.hook, actor=run.site.lead)
    assert another.secret != made.secret
    assert not holds(another.secret, *parts)
    fresh = Telling.objects.select_related("hook").get()
    assert holds(another.secret, *parts[:3], headers_of(fresh, body, now)["webhook-signature"])
    assert not AuditEvent.objects.filter(after__icontains="whsec").exists()


def test_two_addresses_have_two_secrets(site: Site, made: MadeHook) -> None:
    other = add_hook(kitchen=site.kitchen, address="https://wall.example/other", actor=site.lead)
    assert other.secret != made.secret


def test_a_failure_is_tried_again_with_the_same_id_and_growing_pauses_and_then_given_up(run: Run) -> None:
    now, programs = remind(run, 12), Programs(*[Refused(reason="It sleeps.")] * MOST_ATTEMPTS)
    for attempt in range(1, MOST_ATTEMPTS + 1):
        assert sum(tell_programs(now=now, send=programs).values()) == 1
        one = Telling.objects.get()
        assert (one.attempts, one.last_failure) == (attempt, "It sleeps.")
        if attempt < MOST_ATTEMPTS:
            assert one.next_attempt_at == now + PAUSES[attempt - 1]
            assert tell_programs(now=one.next_attempt_at - timedelta(seconds=1), send=programs) == Counter()
            now = one.next_attempt_at
    assert one.state == State.FAILED
    assert len({name for _, name, _ in programs.got}) == 1
    assert tell_programs(now=now + timedelta(days=1), send=programs) == Counter()
    tell_again(telling=one, actor=run.site.lead, now=now)
    assert tell_programs(now=now, send=programs) == Counter({State.DONE: 1})
    assert len({name for _, name, _ in programs.got}) == 1
    with pytest.raises(AlreadyDecided):
        tell_again(telling=one, actor=run.site.lead)


def test_a_program_that_fails_keeps_neither_people_nor_other_programs_waiting(run: Run, site: Site) -> None:
    for number in range(2, 4):
        add_hook(kitchen=site.kitchen, address=f"https://wall.example/{number}", actor=site.lead)
    Hook.objects.update(created_at=timezone.now() - timedelta(days=400))
    for _ in range(3):
        try_hook(hook=Hook.objects.get(address=ADDRESS), actor=site.lead, now=run.at(0))
        Telling.objects.filter(reminder=None).update(state=State.CANCELLED)
    Telling.objects.update(state=State.DUE)
    now = remind(run, 12)
    people = len(mail.outbox)
    assert people > 0
    programs = Programs()
    programs.answers = [Refused(reason="It sleeps.")]
    tell_programs(now=now, send=programs)
    asked = Counter(address for address, _, _ in programs.got)
    assert asked == {ADDRESS: 1, "https://wall.example/2": 1, "https://wall.example/3": 1}
    assert Telling.objects.filter(hook__address=ADDRESS, state=State.DUE).count() == 4
    assert len(mail.outbox) == people


def test_whoever_says_gone_is_told_nothing_more(run: Run, made: MadeHook) -> None:
    tell_programs(now=remind(run, 12), send=Programs(Refused(reason="410", gone=True)))
    made.hook.refresh_from_db()
    assert made.hook.ended_at is not None
    programs = Programs()
    assert tell_programs(now=remind(run, 24), send=programs) == Counter()
    assert Telling.objects.get().state == State.CANCELLED


def test_an_ended_address_and_a_new_one_are_told_nothing_of_before(
    run: Run, site: Site, made: MadeHook
) -> None:
    now = remind(run, 12)
    end_hook(hook=made.hook, actor=site.lead)
    add_hook(kitchen=site.kitchen, address=ADDRESS, actor=site.lead)
    Hook.objects.filter(ended_at=None).update(created_at=now + timedelta(minutes=1))
    assert tell_programs(now=now + timedelta(minutes=2), send=Programs()) == Counter()
    with pytest.raises(AlreadyDecided):
        end_hook(hook=made.hook, actor=site.lead)
    with pytest.raises(AlreadyDecided):
        try_hook(hook=made.hook, actor=site.lead)
    with pytest.raises(AlreadyDecided):
        renew_secret(hook=made.hook, actor=site.lead)


def test_jars_that_are_no_more_are_told_of_to_nobody(run: Run) -> None:
    Reminder.objects.filter(kind=Kind.SEAL_CHECK).update(state=State.CANCELLED)
    programs = Programs()
    tell_programs(now=remind(run, 24), send=programs)
    assert [told["type"] for _, _, told in programs.got] == ["jars.first_call"]


def test_another_kitchen_s_jars_are_not_told_of(run: Run, made: MadeHook) -> None:
    other = make_beans_out(make_site())
    now = remind(other, 12)
    programs = Programs()
    tell_programs(now=now, send=programs)
    assert [told["data"]["kitchen"] for _, _, told in programs.got] == [str(run.site.kitchen.uuid)]  # type: ignore[index]


def test_a_message_left_behind_is_sent_by_the_next_sweep_and_noted_once(run: Run) -> None:
    now = remind(run, 12)

    class Killed(Exception):
        """The sweep ends in the middle."""

    def killed(one: Telling, at: datetime) -> Refused | None:
        raise Killed

    with pytest.raises(Killed):
        tell_programs(now=now, send=killed)
    assert Telling.objects.get().state == State.SENDING
    programs = Programs()
    assert tell_programs(now=now, send=programs) == Counter()
    assert tell_programs(now=now + timedelta(minutes=2), send=programs) == Counter({State.DONE: 1})


def test_a_sweep_that_lost_its_lease_writes_nothing(run: Run) -> None:
    now = remind(run, 12)

    def slow(one: Telling, at: datetime) -> Refused | None:
        Telling.objects.filter(pk=one.pk).update(claim_token=uuid4())
        return None

    assert tell_programs(now=now, send=slow) == Counter({State.SENDING: 1})
    assert Telling.objects.get().done_at is None


def test_a_sweep_ends_in_time(run: Run, site: Site) -> None:
    programs = Programs()
    tell_programs(now=remind(run, 12), send=programs, seconds=-1)
    assert not programs.got


def test_only_a_lead_has_programs_told_and_only_so_many(site: Site, made: MadeHook) -> None:
    for actor in (site.operator, site.member):
        with pytest.raises(NotAllowed):
            add_hook(kitchen=site.kitchen, address="https://x.example/", actor=actor)
        with pytest.raises(NotAllowed):
            end_hook(hook=made.hook, actor=actor)
    with pytest.raises(BadSetting):
        add_hook(kitchen=site.kitchen, address=ADDRESS, actor=site.lead)
    for number in range(1, MOST_HOOKS):
        add_hook(kitchen=site.kitchen, address=f"https://x.example/{number}", actor=site.lead)
    with pytest.raises(BadSetting):
        add_hook(kitchen=site.kitchen, address="https://x.example/more", actor=site.lead)


@pytest.mark.parametrize(
    "wrong",
    ["http://x.example/", "https://u:p@x.example/", "https://x.example:8443/", "ftp://x.example", "x", ""],
)
def test_only_a_plain_encrypted_address_is_taken(site: Site, wrong: str) -> None:
    with pytest.raises(BadAddress):
        add_hook(kitchen=site.kitchen, address=wrong, actor=site.lead)


def test_the_inside_is_never_told(site: Site) -> None:
    hook = add_hook(kitchen=site.kitchen, address="https://localhost/x", actor=site.lead).hook
    one = try_hook(hook=hook, actor=site.lead)
    assert one.hook.address == "https://localhost/x"
    refused = post(one, timezone.now())
    assert refused is not None
    assert "not on the open internet" in refused.reason


@pytest.mark.parametrize(
    ("status", "has_it", "gone"),
    [
        ("204 No Content", True, False),
        ("302 Found", False, False),
        ("500 Oops", False, False),
        ("410 Gone", False, True),
    ],
)
def test_what_goes_over_the_wire(
    site: Site, monkeypatch: pytest.MonkeyPatch, status: str, *, has_it: bool, gone: bool
) -> None:
    near, far = socket.socketpair()
    got: list[bytes] = []

    def answer() -> None:
        with closing(far):
            got.append(far.recv(65_536))
            while b"\r\n\r\n" not in got[0] or not got[0].endswith(b"}"):
                got[0] += far.recv(65_536)
            far.sendall(
                f"HTTP/1.1 {status}\r\nContent-Length: 0\r\nLocation: http://127.0.0.1/\r\n\r\n".encode()
            )

    def ask(method: str, address: str, **how: object) -> outward.Answer:
        return outward.ask(
            method,
            address,
            **how,  # type: ignore[arg-type]
            look_up=lambda host: ["93.184.215.14"],
            connect=lambda host, at, seconds: near,
        )

    monkeypatch.setattr(telling, "ask", ask)
    hook = add_hook(kitchen=site.kitchen, address=ADDRESS, actor=site.lead).hook
    one = try_hook(hook=hook, actor=site.lead)
    thread = threading.Thread(target=answer, daemon=True)
    thread.start()
    refused = post(one, timezone.now())
    thread.join(timeout=5)
    assert (refused is None) == has_it
    assert refused is None or refused.gone == gone
    head, _, body = got[0].partition(b"\r\n\r\n")
    assert head.startswith(b"POST /jars?key=hidden HTTP/1.1\r\nHost: wall.example\r\n")
    assert b"\r\nwebhook-signature: v1," in head
    assert json.loads(body)["type"] == "trial"
