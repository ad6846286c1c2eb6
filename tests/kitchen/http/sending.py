"""Sending what is in ``hostile``, and looking at what comes back."""

from __future__ import annotations

import re
import signal
import sys
from collections.abc import Iterator, Mapping
from contextlib import contextmanager
from html.parser import HTMLParser
from io import RawIOBase
from sys import stdout
from types import MappingProxyType
from uuid import uuid4

from django.apps import apps
from django.db import models
from django.http import HttpResponse
from django.test import Client
from django.urls import NoReverseMatch, reverse

from kitchen.bench.pages import PAGES, Subject, addresses_by_name
from tests.kitchen.api.operations import Operation, schema
from tests.kitchen.http.hostile import SCRIPT


class Told:
    """What was tried, and what went wrong."""

    def __init__(self) -> None:
        self.count = 0
        self.wrong: list[str] = []

    def look(self, what: str, answer: HttpResponse, *, refused: bool = False) -> None:
        """A fault of the program is wrong, script that would run too, and where it must be refused, anything else."""
        self.count += 1
        content = b"".join(answer.streaming_content) if answer.streaming else answer.content  # type: ignore[attr-defined]
        runs = answer.get("Content-Type", "").startswith("text/html") and SCRIPT.encode() in content
        split = "quill" in str(answer.cookies)
        accepted = refused and not 400 <= answer.status_code < 500
        if (
            answer.status_code >= 500
            or runs
            or split
            or accepted
            or answer.get("X-Content-Type-Options") != "nosniff"
        ):
            self.wrong.append(f"{what}: {answer.status_code} {content[:200]!r}")

    def end(self, what: str, least: int) -> None:
        """Print the count; ``least`` keeps the sum of all of them above 500."""
        stdout.write(f"\n{self.count} hostile {what}\n")
        assert not self.wrong, f"{len(self.wrong)} of {self.count}:\n" + "\n".join(self.wrong[:30])
        assert self.count >= least


def text_fields(one: Operation) -> list[str]:
    """The fields of an operation's body that take words."""
    told = schema()["paths"][one.path][one.method].get("requestBody")
    if told is None:
        return []
    name = told["content"]["application/json"]["schema"]["$ref"].rpartition("/")[2]
    fields = schema()["components"]["schemas"][name]["properties"]
    return [field for field, kind in fields.items() if kind.get("type") == "string" or "oneOf" in kind]


class Unread(RawIOBase):
    """A body that nobody may read."""

    def readable(self) -> bool:
        return True

    def read(self, size: int | None = -1, /) -> bytes:
        raise AssertionError("It was read.")


def pressed(
    subject: Subject, others: Mapping[str, Mapping[str, object]] = MappingProxyType({})
) -> list[tuple[str, str]]:
    """Every address of a page, with what its name needs where that is known; ``others`` for one address alone."""
    known = {"membership": subject.values["member"], "job": subject.values["planned"], **subject.values}
    made_up = {"UUIDConverter": uuid4(), "IntConverter": 1}
    found = []
    for name, pattern in addresses_by_name():
        if name in {
            "members:sign-out",
            "api:missing",
            "api:guide",
            "api:schema",
        } or pattern.callback.__module__.startswith("kitchen.api.v1"):
            continue
        other = {
            key: made_up.get(type(one).__name__, "none") for key, one in pattern.pattern.converters.items()
        }
        mine = {**known, **others.get(name, {})}
        try:
            found.append((name, reverse(name, kwargs={key: mine.get(key, other[key]) for key in other})))
        except NoReverseMatch:
            found.append((name, reverse(name, kwargs=other)))
    return found


def is_uuid(value: str) -> bool:
    """True for the id of a row."""
    return re.fullmatch(r"[0-9a-f]{8}(-[0-9a-f]{4}){3}-[0-9a-f]{12}", value) is not None


class Forms(HTMLParser):
    """The forms of a page, each as the fields that it would send if nobody changed anything."""

    def __init__(self, page: str) -> None:
        super().__init__()
        self.found: list[tuple[str, dict[str, str], list[str]]] = []
        self._name = ""
        self.feed(page)

    def handle_starttag(self, tag: str, attrs: list[tuple[str, str | None]]) -> None:
        given = {name: value or "" for name, value in attrs}
        if tag == "form":
            self.found.append(
                (given.get("action", ""), {}, []) if given.get("method") == "post" else ("-", {}, [])
            )
        elif not self.found or (tag != "option" and not given.get("name")):
            return
        elif tag in ("input", "textarea") and given.get("type") not in (
            "radio",
            "checkbox",
            "file",
            "submit",
        ):
            self.found[-1][1][given["name"]] = given.get("value", "")
            if given["name"] != "csrfmiddlewaretoken":
                self.found[-1][2].append(given["name"])
        elif tag == "button" or (tag == "input" and "checked" in given):
            self.found[-1][1][given["name"]] = given.get("value", "")
        elif tag == "select":
            self._name = given["name"]
        elif tag == "option" and self._better(given):
            self.found[-1][1][self._name] = given.get("value", "")

    def _better(self, given: dict[str, str]) -> bool:
        """The option that is chosen, or the first; the id of a row before anything else."""
        now = self.found[-1][1].get(self._name)
        if now is None or is_uuid(given.get("value", "")) > is_uuid(now):
            return True
        return "selected" in given and not is_uuid(now)


def forms_of(browser: Client, subject: Subject) -> dict[str, tuple[str, dict[str, str], list[str]]]:
    """Every form that a lead meets, by the page and where it is sent to."""
    found: dict[str, tuple[str, dict[str, str], list[str]]] = {}
    for page in PAGES:
        where = page.address(subject.values)
        answer = browser.get(where)
        if not answer.get("Content-Type", "").startswith("text/html"):
            continue
        for action, sends, texts in Forms(answer.content.decode()).found:
            kind = re.sub(r"[0-9a-f-]{36}|\d+", "_", action)
            if texts and action != "-":
                found.setdefault(f"{page.name} {kind}", (action or where, sends, texts))
    return found


class TooLong(BaseException):
    """No error that a library would swallow."""


@contextmanager
def soon_over() -> Iterator[None]:
    """Within, what takes long is broken off, as the limits of the process in which calendars are read do."""

    def over(*_: object) -> None:
        raise TooLong

    before, told = signal.signal(signal.SIGVTALRM, over), sys.unraisablehook
    # It may come while something is taken down, or while just that is being told of; the next one breaks it off.
    sys.unraisablehook = lambda _: None
    # Again and again, for what is raised while something is taken down is lost.
    signal.setitimer(signal.ITIMER_VIRTUAL, 0.5, 0.05)
    try:
        yield
    finally:
        signal.setitimer(signal.ITIMER_VIRTUAL, 0)
        signal.signal(signal.SIGVTALRM, before)
        sys.unraisablehook = told


def text_columns() -> Iterator[tuple[type[models.Model], models.Field[object, object]]]:
    """Every column of the kitchen in which somebody's own words may stand."""
    kept_as_written = {
        "digest",
        "password",
        "slug",
        "email",
        "lot_code",
        "plan_key",
        "process_key",
        "food_id",
    }
    technical = {
        "time_zone",
        "input_hash",
        "fingerprint",
        "key",
        "task",
        "site_code",
        "object_type",
        "object_id",
        "action",
        *("method", "kind", "code", "boot_id", "body"),
    }
    for model in apps.get_models():
        if not model.__module__.startswith("kitchen."):
            continue
        for field in model._meta.concrete_fields:
            words = isinstance(field, models.CharField | models.TextField) and not field.choices
            if (
                words
                and field.name not in kept_as_written | technical
                and (field.max_length or 99) >= len("<script>")
            ):
                yield model, field
