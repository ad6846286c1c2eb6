"""Whatever is refused, as RFC 9457 describes a problem: ``application/problem+json``."""

from __future__ import annotations

from collections.abc import Iterator, Mapping, Sequence
from http import HTTPStatus
from typing import Any  # What a validation says is a tree of any depth.

from django.conf import settings
from django.core.exceptions import PermissionDenied
from django.http import Http404
from rest_framework import exceptions
from rest_framework.renderers import JSONRenderer
from rest_framework.response import Response
from rest_framework.views import set_rollback

from kitchen import errors
from kitchen.errors import KitchenError
from kitchen.language.said import said

MEDIA_TYPE = "application/problem+json"
IN_QUERY = "in_query"
"""Marks a validation error as one of the address, not of the body: see ``InvalidQuery``."""

STATUS: Mapping[type[KitchenError], int] = {
    errors.NotAllowed: 403,
    errors.BadLink: 410,
    errors.TooLarge: 413,
    # What stands in the way of it, as things are now.
    errors.AlreadyDecided: 409,
    errors.AlreadyRecorded: 409,
    errors.JarsOnHold: 409,
    errors.NoTimeAgain: 409,
    errors.NotReadyForLabel: 409,
    errors.OutOfOrder: 409,
    errors.OutOfService: 409,
    errors.PlanOutOfDate: 409,
    errors.PlanningUnderWay: 409,
    errors.RecordChanged: 409,
    errors.RecordMovedOn: 409,
    errors.ShiftTaken: 409,
    errors.SlotTaken: 409,
    errors.TooEarly: 409,
    # What can never be, whatever the state of things.
    errors.BadAddress: 422,
    errors.BadCalendar: 422,
    errors.BadHarvestDay: 422,
    errors.BadIntake: 422,
    errors.BadMembership: 422,
    errors.BadReading: 422,
    errors.BadSetting: 422,
    errors.BadTable: 422,
    errors.BadTime: 422,
    errors.BadWishes: 422,
    errors.CannotKeep: 422,
    errors.LabelTooSmall: 422,
    errors.PlanBreaksRule: 422,
    errors.TooMuchWork: 422,
    errors.WrongCount: 422,
    errors.WrongReprocess: 422,
}
"""The status of each of the kitchen's refusals."""

# Data of a refusal that a program can use, by the name under which the refusal keeps it.
_MORE = ("clashes", "earliest", "problems", "published", "violations")
# Codes of the framework in the kitchen's spelling.
_CODES = {"not_authenticated": "not-signed-in", "authentication_failed": "not-signed-in"}


class InvalidQuery(exceptions.ValidationError):
    """What stands behind the question mark of the address cannot be read."""


class ProblemRenderer(JSONRenderer):
    """The same JSON under the name of RFC 9457."""

    media_type = MEDIA_TYPE
    charset = None


def as_problem(error: Exception, context: Mapping[str, Any]) -> Response | None:
    """The answer to a refusal; None for what is a fault of the program."""
    path = context["request"].path
    told = _of_kitchen(error, path) or _of_framework(_as_api_error(error), path)
    if told is None:
        return None
    set_rollback()
    response = Response(told, status=told["status"], content_type=MEDIA_TYPE)
    response.headers["Cache-Control"] = "no-store"
    for name, value in _headers(error).items():
        response.headers[name] = value
    return response


def problem_type(code: str) -> str:
    """The address that names a kind of problem; it leads to its words in the guide."""
    return f"{settings.KITCHEN_URL}/api/#{code}"


def _of_kitchen(error: Exception, path: str) -> dict[str, Any] | None:
    if not isinstance(error, KitchenError):
        return None
    status = next((STATUS[kind] for kind in type(error).__mro__ if kind in STATUS), None)
    if status is None:
        return None
    words = " ".join(filter(None, (said(error.message), said(error.remedy))))
    more = {name: getattr(error, name) for name in _MORE if getattr(error, name, None)}
    return problem(error.code, status, words, path) | more


def _of_framework(error: exceptions.APIException | None, path: str) -> dict[str, Any] | None:
    if error is None:
        return None
    if isinstance(error, exceptions.ValidationError):
        mark = "?" if isinstance(error, InvalidQuery) else "#/"
        wrong = list(_wrong(error.get_full_details(), (), mark))
        told = problem("invalid", error.status_code, "Something in the request is not as it must be.", path)
        return told | {"errors": wrong}
    code = _CODES.get(error.default_code, error.default_code).replace("_", "-")
    return problem(code, error.status_code, str(error.detail), path)


def problem(code: str, status: int, detail: str, path: str) -> dict[str, Any]:
    """What is told of a refusal, by the members of RFC 9457 and our own."""
    return {
        "type": problem_type(code),
        "title": code.replace("-", " ").capitalize(),
        "status": status,
        "code": code,
        "detail": detail,
        "instance": path,
        "errors": [],
    }


def _wrong(details: Any, at: Sequence[str], mark: str) -> Iterator[dict[str, str]]:
    """Each message of a validation with the place that it is about, as a JSON pointer (RFC 6901)."""
    if isinstance(details, Mapping) and "message" in details and "code" in details:
        pointer = mark + "/".join(part.replace("~", "~0").replace("/", "~1") for part in at)
        yield {"pointer": pointer, "code": str(details["code"]), "detail": str(details["message"])}
    elif isinstance(details, Mapping):
        for name, under in details.items():
            yield from _wrong(under, at if name == "non_field_errors" else (*at, str(name)), mark)
    else:
        for number, under in enumerate(details):
            leaf = isinstance(under, Mapping) and "message" in under and "code" in under
            yield from _wrong(under, at if leaf else (*at, str(number)), mark)


def _as_api_error(error: Exception) -> exceptions.APIException | None:
    if isinstance(error, Http404):
        return exceptions.NotFound()
    if isinstance(error, PermissionDenied):
        return exceptions.PermissionDenied()
    return error if isinstance(error, exceptions.APIException) else None


def _headers(error: Exception) -> dict[str, str]:
    headers = {}
    if authenticate := getattr(error, "auth_header", None):
        headers["WWW-Authenticate"] = authenticate
    if wait := getattr(error, "wait", None):
        headers["Retry-After"] = str(int(wait))
    return headers


def title_of(status: int) -> str:
    """What a status is called in the standard."""
    return HTTPStatus(status).phrase
