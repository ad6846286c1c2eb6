"""Who gets through to which page: every address, every role, and another kitchen's ids wherever a page takes one."""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from contextlib import contextmanager
from dataclasses import dataclass, replace
from datetime import timedelta
from sys import stdout
from typing import Any  # The test client gives answers of a kind of its own.
from uuid import uuid4

import pytest
from django.contrib.messages import get_messages
from django.db import connection, transaction
from django.test import Client
from django.test.utils import CaptureQueriesContext
from django.utils import timezone
from pytest_django import DjangoDbBlocker

from kitchen.api.actions import make_token
from kitchen.api.models import Scope
from kitchen.bench.pages import PAGES, Subject, addresses_by_name, make_subject
from kitchen.bench.seasons import Amounts
from kitchen.bench.sites import make_site
from kitchen.booking.models import Waiting
from kitchen.calendars.models import Feed
from kitchen.entrance.models import Passkey
from kitchen.helping.models import BusyCalendar
from kitchen.hooks.actions import add_hook
from kitchen.hooks.models import Telling
from kitchen.learning.models import MeasuredTime
from kitchen.members.models import ConfirmedProcess, Role
from kitchen.planning.models import HarvestDay
from kitchen.reminders.models import Notice, State
from kitchen.rota.models import Attendance, SwapOffer
from tests.factories.kept_rows import kept_rows
from tests.factories.walks import rows, signed_in
from tests.kitchen.http.page_roles import ALLOWED
from tests.kitchen.http.sending import forms_of, is_uuid, pressed

pytestmark = [pytest.mark.django_db, pytest.mark.sqlite]

FEW = Amounts(batches=4, lines_of_a_load=6, batches_of_a_day=2, on_shelf=20, of_one=20)
ROLES = ("anonymous", "member", "operator", "lead", "other kitchen's lead")


@dataclass(frozen=True)
class Two:
    """Two kitchens, full of rows."""

    here: Subject
    there: Subject


@pytest.fixture(scope="module")
def _two(django_db_setup: None, django_db_blocker: DjangoDbBlocker) -> Iterator[Two]:
    with kept_rows(django_db_blocker):
        now = timezone.now()
        yield Two(*(named(make_subject(make_site(number, 6, now.date()), FEW, now)) for number in (0, 1)))


@pytest.fixture
def two(_two: Two, db: None) -> Two:
    return _two


def named(subject: Subject) -> Subject:
    """With one of everything else that addresses name, the member's own where it is somebody's."""
    kitchen, member = subject.site.kitchen, subject.readers[Role.MEMBER]
    mine = kitchen.memberships.get(user=member)
    food = {
        "food_id": "snap_beans",
        "pack": "raw",
        "jar": "pint",
        "jars": 7,
        "people": 1,
        "asked_at": timezone.now(),
    }
    more: dict[str, object] = {
        "membership": mine.uuid,
        "user": member.uuid,
        "job": subject.values["planned"],
        "confirmed": ConfirmedProcess.objects.create(
            kitchen=kitchen, process_key="q", publication="A guide", confirmed_by=subject.readers[Role.LEAD]
        ).pk,
        "device": make_token(user=member, kitchen=kitchen, name="Tablet", scopes=[Scope.BOARD]).token.uuid,
        "calendar": BusyCalendar.objects.get_or_create(
            membership=mine, kind="file", defaults={"name": "Evenings"}
        )[0].uuid,
        "passkey": Passkey.objects.create(
            user=member, name="Telephone", credential_id=str(uuid4()), public_key="", added_at=timezone.now()
        ).uuid,
        "queued": Waiting.objects.create(
            kitchen=kitchen, member=member, day=timezone.now().date(), **food
        ).uuid,
    }
    hook = add_hook(
        kitchen=kitchen, address="https://wall.example/jars", actor=subject.readers[Role.LEAD]
    ).hook
    told = Telling.objects.create(
        hook=hook, created_at=hook.created_at, next_attempt_at=hook.created_at, state=State.FAILED
    )
    more |= {"hook": hook.uuid, "telling": told.pk}
    batch = kitchen.batches.filter(member=member)[0]
    batch.pk, batch.uuid = None, uuid4()
    batch.arrives_at = timezone.now() - timedelta(hours=1)
    batch.picks_up_at = timezone.now() + timedelta(hours=1)
    batch.save()
    more["brought"] = batch.pk
    day = HarvestDay.objects.get(uuid=str(subject.values["day"]))
    Attendance.objects.get_or_create(
        harvest_day=day, user=member, defaults={"starts_at": day.opens_at, "ends_at": day.closes_at}
    )
    for name, found in (
        ("feed", Feed.objects.filter(kitchen=kitchen, user=member)),
        ("notice", Notice.objects.filter(reminder__kitchen=kitchen, recipient=member)),
        ("hours", Attendance.objects.filter(harvest_day=day, user=member)),
        ("offer", SwapOffer.objects.filter(shift__harvest_day__kitchen=kitchen)),
        ("time", MeasuredTime.objects.filter(kitchen=kitchen)),
    ):
        if row := found.last():
            more[name] = getattr(row, "uuid", row.pk)
    return replace(subject, values={**subject.values, **more})


@contextmanager
def undone() -> Iterator[None]:
    with transaction.atomic():
        yield
        transaction.set_rollback(True)


def clients(two: Two) -> list[Client]:
    """One of each role, in the order of ``ROLES``."""
    here = [signed_in(two.here.readers[role]) for role in (Role.MEMBER, Role.OPERATOR, Role.LEAD)]
    return [Client(), *here, signed_in(two.there.readers[Role.LEAD])]


def came_of(answer: Any) -> str:
    """``s`` sent to sign in, ``n`` refused, ``-`` not the way, ``y`` let through, whatever came of it then."""
    if answer.streaming:
        b"".join(answer.streaming_content)  # Read to its end, and so closed.
    if answer.status_code == 405:
        return "-"
    if answer.status_code == 302 and answer["Location"].startswith("/sign-in/?"):
        return "s"
    request = answer.wsgi_request
    told = " ".join(map(str, get_messages(request)))
    return "n" if answer.status_code in (403, 404) or " may not " in told else "y"


def others(subject: Subject) -> dict[str, dict[str, object]]:
    """What single addresses need instead."""
    values = subject.values
    return {
        "api:end-token": {"token": values["device"]},
        "booking:stop": {"waiting": values["queued"]},
        "home:new-feed": {"kind": "rota"},
        "harvest:drawn": {"job": values["drawn"]},
        "harvest:progress": {"job": values["waiting"]},
        "records:day-pdf": {"day": values["past"]},
        "records:day-csv": {"day": values["past"]},
    }


def sent_to(name: str, subject: Subject) -> dict[str, object]:
    """What is sent where a form is looked at before the role."""
    press: dict[str, object] = {"kind": "loaded", "seen": 0}
    sent: Mapping[str, dict[str, object]] = {
        "floor:step": press,
        "floor:jars-out": press,
        "floor:hand-over": {**press, "to": subject.readers[Role.OPERATOR].uuid},
        "floor:correct": {"note": "A slip.", "at": "2026-09-12T10:00"},
        "floor:withdraw": {"note": "A slip."},
        "floor:hold": {"outcome": "released", "reason": "A slip of the pen."},
        "learning:use": {"kept_percent": "80"},
    }
    if name == "learning:work":
        return {"batch": subject.values["brought"], "kind": "prep", "jars": 1, "hands": 1, "minutes": 5}
    return sent.get(name, {})


def test_every_role_at_every_page(two: Two) -> None:
    """Exactly as the table says; whoever is sent away or refused leaves nothing changed."""
    wrong, count, pages = [], 0, pressed(two.here, others(two.here))
    assert {name for name, _ in pages} == set(ALLOWED)
    found: dict[str, str] = {}
    for name, where in pages:
        came = ""
        for method in ("get", "post"):
            for number, client in enumerate(clients(two)):
                count += 1
                with undone(), CaptureQueriesContext(connection) as asked:
                    given = sent_to(name, two.here) if method == "post" else {}
                    one = came_of(getattr(client, method)(where, given))
                came += one
                written = [sql for sql in (each["sql"] for each in asked.captured_queries) if writes(sql)]
                if one in "sn-" and written:
                    wrong.append(f"{name}, {method} by {ROLES[number]}: refused, and wrote {written[:2]}")
        found[name] = f"{came[:5]} {came[5:]}"
        if found[name] != ALLOWED[name]:
            wrong.append(f"{name}: {found[name]} instead of {ALLOWED[name]}")
    stdout.write(f"\n{count} combinations of page, role and method\n")
    assert not wrong, "\n".join(wrong)


def writes(sql: str) -> bool:
    """True for a statement that changes a row, but for sessions, in which messages wait."""
    return sql.startswith(("INSERT", "UPDATE", "DELETE")) and "django_session" not in sql


def changed(before: Mapping[str, object]) -> set[str]:
    """The tables that are not as they were, but for notes of the program."""
    after = rows()
    return {label for label in before if before[label] != after[label]}


def test_ids_of_another_kitchen_in_an_address_lead_nowhere(two: Two) -> None:
    """Below one's own kitchen, as its lead, who may do everything there."""
    client, count, wrong = clients(two)[3], 0, []
    foreign = {
        key: value for key, value in two.there.values.items() if key not in ("kitchen", "what", "year")
    }
    mine, before = others(two.here), rows()
    for name, pattern in addresses_by_name():
        keys = [key for key in pattern.pattern.converters if key in foreign] if name in ALLOWED else []
        for key in keys if "kitchen" in pattern.pattern.converters else []:
            theirs = {**mine.get(name, {}), key: others(two.there).get(name, {}).get(key, foreign[key])}
            if name == "labels:lot" or name.startswith("calendars:"):
                theirs[key] = foreign[key]
            where = dict(pressed(two.here, {name: theirs}))[name]
            for method in ("get", "post"):
                answer = getattr(client, method)(where, sent_to(name, two.there) if method == "post" else {})
                count += 1
                if came_of(answer) not in "n-":
                    wrong.append(f"{name}, {key}, {method}: {answer.status_code}")
    stdout.write(f"\n{count} ids of another kitchen in addresses\n")
    assert count > 100
    assert not wrong, "\n".join(wrong)
    assert not changed(before)


def test_ids_of_another_kitchen_behind_the_question_mark_show_nothing(two: Two) -> None:
    client, count = clients(two)[3], 0
    for page in {page.name: page for page in PAGES if "kitchen" in page.values}.values():
        where = page.address(two.here.values).partition("?")[0]
        for name, value in (
            *(("again", "drawn"), ("load", "load"), ("shift", "shift"), ("code", "code"), ("day", "day")),
            *(("canner", "canner"), ("slot", "slot"), ("member", "member")),
        ):
            answer = client.get(f"{where}?{name}={two.there.values[value]}")
            count += 1
            assert came_of(answer) in "yn"
            told = b"" if answer.streaming else answer.content
            assert two.there.site.kitchen.name.encode() not in told
            assert f"/{two.there.site.kitchen.slug}/".encode() not in told, f"{page.name}?{name}"
    stdout.write(f"\n{count} ids of another kitchen in queries\n")


def test_ids_of_another_kitchen_in_a_form_change_nothing(two: Two) -> None:
    """Every field of every form that holds the id of a row gets the same kind of row of the other kitchen."""
    client, count, wrong = clients(two)[3], 0, []
    swap = {str(two.here.values[key]): str(two.there.values[key]) for key in two.here.values if key != "what"}
    for label, here in people(two.here).items():
        swap[here] = people(two.there)[label]
    forms = forms_of(client, two.here)
    before = rows()
    for name, (where, sends, _) in forms.items():
        for field in [field for field, value in sends.items() if is_uuid(value)]:
            count += 1
            theirs = swap.get(sends[field], str(two.there.values["member"]))
            client.post(where, {**sends, field: theirs})
            if after := changed(before) - {"sessions.Session"}:
                wrong.append(f"{name}, {field}: changed {after}")
                before = rows()
    stdout.write(f"\n{count} ids of another kitchen in forms\n")
    assert count > 5
    assert not wrong, "\n".join(wrong)


def people(subject: Subject) -> dict[str, str]:
    """The people of a kitchen by their roles."""
    return {role.value: str(user.uuid) for role, user in subject.readers.items()}
