"""Whatever is sent, no answer is a fault of the program and each is one that the schema knows.

Two of each operation here; ``KITCHEN_TEST_API_CASES=20000`` makes so many in all.
"""

from __future__ import annotations

import os
from collections import Counter
from collections.abc import Iterator
from sys import stdout
from typing import Any

import pytest
import schemathesis
from django.core.signals import request_finished, request_started
from django.core.wsgi import get_wsgi_application
from django.db import close_old_connections, transaction
from django.test import override_settings
from hypothesis import HealthCheck, Phase, given
from hypothesis import settings as how
from hypothesis import strategies as st
from schemathesis import GenerationMode
from schemathesis.core.failures import FailureGroup
from schemathesis.specs.openapi.checks import (
    content_type_conformance,
    response_headers_conformance,
    response_schema_conformance,
    status_code_conformance,
)

from tests.factories.furnished import Furnished, bearer, furnish
from tests.kitchen.api.operations import ELSEWHERE, operations

CASES = int(os.environ.get("KITCHEN_TEST_API_CASES", "160"))
CHECKS = [
    content_type_conformance,
    response_headers_conformance,
    response_schema_conformance,
    status_code_conformance,
]
BY_NAME = {one.name: one for one in operations()}


def roles(at: Furnished) -> dict[str, dict[str, str]]:
    """How each role signs in."""
    site = at.site
    people = {"member": site.member, "operator": site.operator, "lead": site.lead}
    return {"anonymous": {}} | {name: bearer(user, site) for name, user in people.items()}


def here(name: str, case: Any, at: Furnished, known: dict[str, bool]) -> None:
    """Put ids that are there in the place of made-up ones, as far as ``known`` says."""
    renamed = ELSEWHERE.get(name, {})
    for part in case.path_parameters or {}:
        if known.get(part, True):
            case.path_parameters[part] = at.named[renamed.get(part, part)]


def ask_much(
    operation: Any, at: Furnished, signed: dict[str, dict[str, str]], each: int
) -> Counter[tuple[str, int]]:
    """So many requests to one operation, two of three as they should be; everything is taken back after each."""
    came: Counter[tuple[str, int]] = Counter()
    name = operation.definition.raw["operationId"]
    right = operation.as_strategy(generation_mode=GenerationMode.POSITIVE)
    wrong = operation.as_strategy(generation_mode=GenerationMode.NEGATIVE)
    none_known = dict.fromkeys(at.named, False) | {"kitchen": True}

    @how(
        max_examples=each,
        phases=[Phase.generate],
        database=None,
        derandomize="KITCHEN_TEST_API_CASES" not in os.environ,
        suppress_health_check=list(HealthCheck),
    )
    @given(
        case=st.one_of(right, right, wrong),
        role=st.sampled_from(["lead", "lead", "operator", "member", "member", "anonymous"]),
        known=st.sampled_from([True, True, True, False]),
        key=st.uuids(),
    )
    def ask(case: Any, role: str, known: bool, key: Any) -> None:
        here(name, case, at, {} if known else none_known)
        headers = {**signed[role], "Idempotency-Key": str(key), "If-Match": "*"}
        with transaction.atomic():
            response = case.call(headers=headers)
            transaction.set_rollback(True)
        came[role, response.status_code] += 1
        assert response.status_code < 500, case.as_curl_command()
        case.validate_response(response, checks=CHECKS)

    ask()
    return came


@pytest.fixture
def one_connection() -> Iterator[None]:
    """Requests share the test's own connection, and leave it open, as with Django's test client."""
    for signal in (request_started, request_finished):
        signal.disconnect(close_old_connections)
    yield
    for signal in (request_started, request_finished):
        signal.connect(close_old_connections)


@pytest.fixture
def served(db: None, one_connection: None) -> schemathesis.BaseSchema:
    """The schema as a program gets it, and the program behind it."""
    return schemathesis.openapi.from_wsgi("/api/v1/schema", closing(get_wsgi_application()))


def closing(program: Any) -> Any:
    """The program behind a server that closes an answer once it is sent, as every server does."""

    def serve(environ: dict[str, Any], start: Any) -> list[bytes]:
        answer = program(environ, start)
        try:
            return [b"".join(answer)]
        finally:
            answer.close()

    return serve


@pytest.mark.postgres  # Which refuses more than SQLite does.
@pytest.mark.django_db
@override_settings(API_PER_MINUTE=10**9, API_PER_MINUTE_UNKNOWN=10**9)
def test_any_request_is_answered_as_the_schema_says(served: schemathesis.BaseSchema) -> None:
    at = furnish()
    signed, each = roles(at), max(2, -(-CASES // len(BY_NAME)))
    came: Counter[tuple[str, int]] = Counter()
    wrong: list[str] = []
    for result in served.get_all_operations():
        try:
            came += ask_much(result.ok(), at, signed, each)  # type: ignore[union-attr]  # The schema is valid.
        except (AssertionError, FailureGroup) as failure:
            wrong.append("\n".join(map(str, getattr(failure, "exceptions", [failure]))))
    stdout.write(f"\n{sum(came.values())} requests\n")
    for role in signed:
        told = {status: count for (who, status), count in sorted(came.items()) if who == role}
        stdout.write(f"{role}: {told}\n")
    assert not wrong, "\n\n".join(wrong)
    assert {role for role, _ in came} == set(signed)
