"""Who gets through to what: every operation, every role, and the ids of another kitchen everywhere."""

from __future__ import annotations

import json
from collections import Counter
from collections.abc import Iterator
from contextlib import contextmanager
from dataclasses import dataclass
from sys import stdout
from typing import Any

import pytest
from django.db import connection, transaction
from django.http import HttpResponse
from django.test import Client
from django.test.utils import CaptureQueriesContext

from kitchen.api.models import Scope
from tests.factories.furnished import Furnished, bearer, furnish
from tests.factories.walks import rows
from tests.kitchen.api.operations import QUERIES, Operation, address, body, operations, schema, send

pytestmark = pytest.mark.django_db

ANYBODY, MEMBER, OPERATOR, LEAD = range(4)

# Written out on its own: the least role, and what an operation is answered with when the role suffices.
ALLOWED: dict[str, tuple[int, int]] = {
    "foods_list": (ANYBODY, 200),
    "processes_find": (ANYBODY, 200),
    "kitchens_list": (MEMBER, 200),
    "kitchens_retrieve": (MEMBER, 200),
    "kitchens_policy": (LEAD, 200),
    "members_list": (MEMBER, 200),
    "batches_list": (MEMBER, 200),
    "batches_retrieve": (MEMBER, 200),
    "batches_declare": (MEMBER, 201),
    "batches_change": (MEMBER, 200),
    "batches_take_back": (MEMBER, 204),
    "batches_arrival": (OPERATOR, 200),
    "batches_estimate": (MEMBER, 200),
    "batches_check_table": (MEMBER, 200),
    "batches_bring_table": (MEMBER, 201),
    "days_list": (MEMBER, 200),
    "days_retrieve": (MEMBER, 200),
    "days_open": (LEAD, 201),
    "days_hours": (LEAD, 200),
    "days_close": (LEAD, 200),
    "days_board": (MEMBER, 200),
    "days_plan": (MEMBER, 404),
    "plan_jobs_list": (LEAD, 200),
    "plan_jobs_start": (LEAD, 201),
    "plan_jobs_watch": (LEAD, 200),
    "plan_jobs_stop": (LEAD, 409),
    "plan_jobs_publish": (LEAD, 409),
    "plan_jobs_plan": (LEAD, 200),
    "loads_list": (MEMBER, 200),
    "loads_retrieve": (MEMBER, 200),
    "loads_record": (MEMBER, 200),
    "loads_press": (OPERATOR, 201),
    "loads_decide": (LEAD, 409),
    "lines_correct": (OPERATOR, 201),
    "lines_withdraw": (OPERATOR, 409),
    "times_search": (MEMBER, 200),
    "holds_create": (MEMBER, 201),
    "holds_retrieve": (MEMBER, 200),
    "holds_let_go": (MEMBER, 204),
    "slots_list": (MEMBER, 200),
    "slots_retrieve": (MEMBER, 200),
    "slots_book": (MEMBER, 422),
    "slots_cancel": (MEMBER, 204),
    "portions_list": (MEMBER, 200),
    "portions_retrieve": (MEMBER, 200),
    "portions_count": (MEMBER, 201),
    "portions_decline": (MEMBER, 200),
    "labels_of_batch": (MEMBER, 409),
    "labels_of_portion": (MEMBER, 409),
    "shifts_list": (MEMBER, 200),
    "shifts_retrieve": (MEMBER, 200),
    "shifts_want": (LEAD, 201),
    "shifts_take": (MEMBER, 200),
    "shifts_give_back": (MEMBER, 200),
    "shifts_hand_over": (MEMBER, 200),
    "shifts_no_more": (LEAD, 204),
    "hours_list": (MEMBER, 200),
    "hours_retrieve": (MEMBER, 200),
    "hours_give": (MEMBER, 422),
    "hours_take_back": (MEMBER, 204),
    "swap_offers_list": (MEMBER, 200),
    "swap_offers_retrieve": (MEMBER, 200),
    "swap_offers_make": (MEMBER, 409),
    "swap_offers_accept": (MEMBER, 403),
    "swap_offers_withdraw": (MEMBER, 204),
    "canners_list": (MEMBER, 200),
    "canners_retrieve": (MEMBER, 200),
    "canners_change": (LEAD, 200),
    "canners_check_gauge": (OPERATOR, 201),
    "canners_withdraw": (OPERATOR, 200),
    "canners_return": (LEAD, 200),
    "equipment_retrieve": (MEMBER, 200),
    "notices_list": (MEMBER, 200),
    "notices_see": (MEMBER, 204),
    "feeds_list": (MEMBER, 200),
    "feeds_retrieve": (MEMBER, 200),
    "feeds_make": (MEMBER, 201),
    "feeds_end": (MEMBER, 204),
    "hooks_list": (LEAD, 200),
    "hooks_retrieve": (LEAD, 200),
    "hooks_add": (LEAD, 201),
    "hooks_end": (LEAD, 204),
    "hooks_renew_secret": (LEAD, 201),
    "hooks_try": (LEAD, 201),
    "hook_messages_list": (LEAD, 200),
    "hook_messages_again": (LEAD, 204),
    "opening_hours_list": (MEMBER, 200),
    "opening_hours_retrieve": (MEMBER, 200),
    "opening_hours_set": (LEAD, 200),
    "burners_add": (LEAD, 201),
    "kettles_add": (LEAD, 201),
    "cooling_tables_add": (LEAD, 201),
    "canners_add": (LEAD, 201),
    "wishes_retrieve": (MEMBER, 200),
    "wishes_set": (MEMBER, 200),
    "waiting_list": (MEMBER, 200),
    "waiting_retrieve": (MEMBER, 200),
    "waiting_begin": (MEMBER, 422),
    "waiting_stop": (MEMBER, 204),
    "records_retrieve": (OPERATOR, 200),
    "records_sign": (OPERATOR, 409),
    "records_review": (LEAD, 409),
    "portions_ways_again": (MEMBER, 200),
    "portions_book_again": (MEMBER, 422),
    "audit_list": (LEAD, 200),
    "kitchens_export": (LEAD, 200),
    "my_data": (MEMBER, 200),
}
# What stands there is the member's own: what operator and lead are answered with instead. What is somebody's alone is
# not found by others; what others see but may not touch is refused.
OWN: dict[str, dict[int, int]] = {
    "batches_change": {OPERATOR: 403},
    "batches_take_back": {OPERATOR: 403},
    "feeds_retrieve": {OPERATOR: 404, LEAD: 404},
    "feeds_end": {OPERATOR: 404, LEAD: 404},
    "holds_create": {OPERATOR: 409, LEAD: 409},
    "holds_retrieve": {OPERATOR: 404},
    "holds_let_go": {OPERATOR: 404},
    "hours_take_back": {OPERATOR: 403},
    "notices_see": {OPERATOR: 404, LEAD: 404},
    "waiting_retrieve": {OPERATOR: 404},
    "waiting_stop": {OPERATOR: 404},
    "shifts_give_back": {OPERATOR: 403},
    "shifts_hand_over": {OPERATOR: 403},
    "slots_book": {OPERATOR: 400},
    "slots_retrieve": {OPERATOR: 404},
    "slots_cancel": {OPERATOR: 404},
    "swap_offers_make": {OPERATOR: 403, LEAD: 403},
    "swap_offers_retrieve": {OPERATOR: 404},
    "swap_offers_accept": {OPERATOR: 404},
    "swap_offers_withdraw": {OPERATOR: 404, LEAD: 403},
}
ROLES = ("anonymous", "member", "operator", "lead", "other kitchen's lead")


@pytest.fixture
def at() -> Furnished:
    return furnish()


@pytest.fixture
def there() -> Furnished:
    return furnish()


@contextmanager
def undone() -> Iterator[CaptureQueriesContext]:
    """Within, whatever is written is taken back; the statements are kept."""
    with transaction.atomic(), CaptureQueriesContext(connection) as asked:
        yield asked
        transaction.set_rollback(True)


def writes(asked: CaptureQueriesContext) -> list[str]:
    """The statements that would change a row, but for the API's own notes, which a refusal takes back."""
    return [
        one["sql"]
        for one in asked.captured_queries
        if one["sql"].startswith(("INSERT", "UPDATE", "DELETE")) and '"api_' not in one["sql"]
    ]


def clients(at: Furnished, there: Furnished) -> list[Client]:
    """One of each role, in the order of ``ROLES``."""
    here = [
        Client(headers=bearer(user, at.site)) for user in (at.site.member, at.site.operator, at.site.lead)
    ]
    return [Client(), *here, Client(headers=bearer(there.site.lead, there.site))]


def expected(one: Operation, role: int) -> int:
    """The status by the table."""
    least, status = ALLOWED[one.name]
    if least == ANYBODY:
        return status
    if role == 0:
        return 401
    if role == 4:
        return 200 if one.name == "kitchens_list" else 404
    return OWN.get(one.name, {}).get(role, status) if role >= least else 403


def test_every_operation_stands_in_the_table() -> None:
    assert {one.name for one in operations()} == set(ALLOWED)


def test_every_role_at_every_operation(at: Furnished, there: Furnished) -> None:
    wrong, count = [], 0
    for role, client in enumerate(clients(at, there)):
        for one in operations():
            with undone() as asked:
                answer = send(client, one, at)
            count += 1
            if answer.status_code != expected(one, role):
                wrong.append(f"{one.name}, {ROLES[role]}: {answer.status_code} {answer.content[:300]!r}")
            elif answer.status_code in (401, 403, 404) and writes(asked):
                wrong.append(f"{one.name}, {ROLES[role]}: refused, and wrote {writes(asked)}")
    stdout.write(f"\n{count} combinations of operation and role\n")
    assert not wrong, "\n".join(wrong)


@dataclass(frozen=True)
class Foreign:
    """A request that names something of the other kitchen, in one place."""

    where: str
    answer: HttpResponse
    written: list[str]


def with_foreign_path(client: Client, one: Operation, at: Furnished, there: Furnished) -> Iterator[Foreign]:
    for part in {*one.parts[1:]} - {"weekday"}:
        to = address(one, at, **{part: there.named[part]})
        yield tried(f"path {part}", client, one, at, there, to=to)


def with_foreign_query(client: Client, one: Operation, at: Furnished, there: Furnished) -> Iterator[Foreign]:
    told = schema()["paths"][one.path][one.method].get("parameters", [])
    for name in [
        one["name"] for one in told if one["in"] == "query" and one["schema"].get("format") == "uuid"
    ]:
        named = {"person": "member", "actor": "member"}.get(name, name)
        query = f"{QUERIES.get(one.name, '?')}&{name}={there.named[named]}"
        yield tried(f"query {name}", client, one, at, there, query=query)


def with_foreign_body(client: Client, one: Operation, at: Furnished, there: Furnished) -> Iterator[Foreign]:
    told = schema()["paths"][one.path][one.method].get("requestBody")
    if told is None:
        return
    name = told["content"]["application/json"]["schema"]["$ref"].rpartition("/")[2]
    fields = schema()["components"]["schemas"][name]["properties"]
    for field in [field for field, kind in fields.items() if kind.get("format") == "uuid"]:
        named = {
            "person": "member",
            "to": "member",
            "comes_with": "member",
            "watcher": "member",
            "wants": "shift",
            "replaces": "slot",
        }
        given = body(one.name, at) | {field: there.named[named.get(field, field)]}
        yield tried(f"body {field}", client, one, at, there, given=given)


def tried(
    where: str, client: Client, one: Operation, at: Furnished, there: Furnished, **sent: Any
) -> Foreign:
    with undone() as asked:
        before = rows() if one.method != "get" else {}
        count = len(asked)
        answer = send(client, one, at, **sent)
        written = writes(asked)
        if one.method != "get" and len(asked) > count and written:
            after = rows()
            written = [label for label in before if before[label] != after[label] and label != "api.Token"]
    return Foreign(where=f"{one.name}, {where}", answer=answer, written=written)


def test_ids_of_another_kitchen_never_succeed(at: Furnished, there: Furnished) -> None:
    """Named by a lead, who may do everything: in the path they are not found, in a body refused, in a query nothing."""
    client = clients(at, there)[3]
    wrong, counted = [], Counter[str]()
    for one in operations():
        for place, foreign, fine in (
            ("path", with_foreign_path, {404}),
            ("query", with_foreign_query, {200, 400}),
            ("body", with_foreign_body, {400}),
        ):
            for found in foreign(client, one, at, there):
                counted[place] += 1
                told = found.answer.content.decode(errors="replace")
                empty = found.answer.status_code != 200 or '"results":[]' in told
                if found.answer.status_code not in fine or found.written or not empty:
                    wrong.append(f"{found.where}: {found.answer.status_code} {found.written} {told[:200]}")
    stdout.write(f"\n{dict(counted)} ids of another kitchen\n")
    assert min(counted.values()) > 5
    assert not wrong, "\n".join(wrong)


def test_a_token_of_one_kitchen_opens_no_other(at: Furnished) -> None:
    """Even for a person who leads both."""
    there = furnish()
    there.site.kitchen.memberships.create(user=at.site.lead, role="lead")
    client = Client(headers=bearer(at.site.lead, at.site))
    assert client.get(f"/api/v1/kitchens/{there.site.kitchen.uuid}").status_code == 404
    assert [one["id"] for one in client.get("/api/v1/kitchens").json()] == [str(at.site.kitchen.uuid)]


SCOPES = {
    Scope.BOARD: {
        *("kitchens_list", "kitchens_retrieve", "members_list", "days_list", "days_retrieve", "days_board"),
        *("days_plan", "loads_list", "loads_retrieve", "loads_record", "shifts_list", "shifts_retrieve"),
        *(
            "hours_list",
            "hours_retrieve",
            "opening_hours_list",
            "opening_hours_retrieve",
            "canners_list",
            "canners_retrieve",
            "equipment_retrieve",
        ),
    },
    Scope.PRESS: {"kitchens_list", "loads_press", "lines_correct", "lines_withdraw"},
    Scope.BOOK: {
        *("kitchens_list", "times_search", "holds_create", "holds_retrieve", "holds_let_go", "slots_list"),
        *("slots_retrieve", "slots_book", "slots_cancel"),
        *("waiting_list", "waiting_retrieve", "waiting_begin", "waiting_stop"),
    },
}


@pytest.mark.parametrize("scope", SCOPES)
def test_a_narrow_token_opens_what_it_says(at: Furnished, scope: Scope) -> None:
    """In the hand of a lead, so that nothing but the token stands in the way."""
    client = Client(headers=bearer(at.site.lead, at.site, scope))
    opened = set()
    for one in operations():
        if one.name == "times_search":
            continue  # Looked at below, without planning.
        with undone():
            answer = send(client, one, at)
        if answer.status_code != 403 or json.loads(answer.content)["code"] != "token-too-narrow":
            opened.add(one.name)
    assert opened == (SCOPES[scope] | {"foods_list", "processes_find"}) - {"times_search"}
