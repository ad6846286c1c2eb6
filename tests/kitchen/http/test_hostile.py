"""Whatever is sent, it is refused with a clear word or shown inert, nothing is lost, and memory stays bounded."""

from __future__ import annotations

import tracemalloc
from collections.abc import Iterator
from contextlib import contextmanager, suppress
from dataclasses import dataclass
from datetime import timedelta
from urllib.parse import quote
from uuid import uuid4
from zoneinfo import ZoneInfo

import pytest
from django.core.files.uploadedfile import SimpleUploadedFile
from django.db import connection, transaction
from django.test import Client
from django.urls import reverse
from django.utils import timezone
from pytest_django import DjangoDbBlocker

from kitchen.batches.intake_rows import HEADINGS, read_rows
from kitchen.bench.pages import PAGES, Page, Subject, make_subject
from kitchen.bench.seasons import Amounts
from kitchen.bench.sites import make_site as make_full_site
from kitchen.errors import BadCalendar, BadTable
from kitchen.helping.reading import MOST_SPANS, Window, read_busy
from kitchen.http.size import MOST_SENT
from kitchen.members.models import Role
from tests.factories.furnished import Furnished, bearer, furnish
from tests.factories.kept_rows import kept_rows
from tests.factories.walks import rows, signed_in
from tests.kitchen.api.operations import address, body, operations, schema, send
from tests.kitchen.http.hostile import BODIES, CALENDARS, FILES, HEADERS, KINDS, SCRIPT, WORDS
from tests.kitchen.http.sending import (
    Told,
    TooLong,
    Unread,
    forms_of,
    pressed,
    soon_over,
    text_columns,
    text_fields,
)

pytestmark = pytest.mark.django_db

FEW = Amounts(batches=4, lines_of_a_load=6, batches_of_a_day=2, on_shelf=20, of_one=20)
MEGABYTE = 1 << 20


@dataclass(frozen=True)
class Kept:
    """A kitchen for programs and one for pages."""

    at: Furnished
    subject: Subject


@pytest.fixture(scope="module")
def _kept(django_db_setup: None, django_db_blocker: DjangoDbBlocker) -> Iterator[Kept]:
    with kept_rows(django_db_blocker):
        now = timezone.now()
        subject = make_subject(make_full_site(0, 6, now.date()), FEW, now)
        yield Kept(furnish(), subject)


@pytest.fixture
def kept(_kept: Kept, db: None) -> Kept:
    return _kept


@pytest.fixture
def program(kept: Kept) -> Client:
    return Client(headers=bearer(kept.at.site.lead, kept.at.site), raise_request_exception=False)


@pytest.fixture
def browser(kept: Kept) -> Client:
    client = signed_in(kept.subject.readers[Role.LEAD])
    client.raise_request_exception = False
    return client


@contextmanager
def undone() -> Iterator[None]:
    with transaction.atomic():
        yield
        transaction.set_rollback(True)


def test_words_in_every_field_that_a_program_sends(kept: Kept, program: Client) -> None:
    told = Told()
    for one in operations():
        for number, field in enumerate(text_fields(one)):
            # Every kind of words somewhere in each operation; script in every field.
            for name in {"script", "NUL", "surrogate", [*WORDS][number % len(WORDS)]}:
                with undone():
                    given = body(one.name, kept.at) | {field: WORDS[name]}
                    told.look(f"{one.name}, {field}: {name}", send(program, one, kept.at, given=given))
    told.end("words to programs", 150)


@pytest.mark.sqlite
def test_bodies_that_are_none(kept: Kept, program: Client) -> None:
    told = Told()
    before = rows()
    for one in [one for one in operations() if text_fields(one)]:
        for name, content in BODIES.items():
            with transaction.atomic():
                answer = program.generic(
                    one.method,
                    address(one, kept.at),
                    content,
                    content_type="application/json",
                    headers={"Idempotency-Key": str(uuid4()), "If-Match": "*"},
                )
                if answer.status_code < 400:  # What an operation needs may all be optional.
                    transaction.set_rollback(True)
            told.look(f"{one.name}: {name}", answer)  # type: ignore[arg-type]  # The test client's own kind.
    after = rows()
    changed = {label for label in before if before[label] != after[label]}
    assert changed <= {"api.Token", "api.KeptAnswer"}
    told.end("bodies", 300)


@pytest.mark.sqlite
def test_content_types_that_nobody_takes(kept: Kept, program: Client, browser: Client) -> None:
    told = Told()
    for one in [one for one in operations() if one.method != "get"]:
        for kind in KINDS:
            with undone():
                answer = program.generic(one.method, address(one, kept.at), b"quill", content_type=kind)
            told.look(f"{one.name}: {kind[:30]}", answer)  # type: ignore[arg-type]
    for name, where in pressed(kept.subject):
        for kind in KINDS:
            with undone():
                told.look(f"{name}: {kind[:30]}", browser.generic("POST", where, b"quill", content_type=kind))  # type: ignore[arg-type]
    told.end("content types", 300)


@pytest.mark.sqlite
@pytest.mark.parametrize("length", [50 * MEGABYTE, MOST_SENT + 1, 10**30])
def test_what_is_too_large_is_refused_without_being_read(
    kept: Kept, program: Client, browser: Client, length: int
) -> None:
    told = Told()
    sent = {"wsgi.input": Unread(), "CONTENT_LENGTH": str(length)}
    tracemalloc.start()
    for one in [one for one in operations() if one.method != "get"]:
        answer = program.generic(one.method, address(one, kept.at), content_type="application/json", **sent)  # type: ignore[arg-type]
        told.look(one.name, answer, refused=True)  # type: ignore[arg-type]
        assert (answer.status_code, answer.json()["code"]) == (413, "too-large")
    for kind in ("multipart/form-data; boundary=q", "application/x-www-form-urlencoded"):
        for name, where in pressed(kept.subject):
            answer = browser.generic("POST", where, content_type=kind, **sent)  # type: ignore[arg-type]
            told.look(name, answer, refused=True)  # type: ignore[arg-type]
            assert answer.status_code == 413
            assert b"Send less at once" in answer.content
    peak = tracemalloc.get_traced_memory()[1]
    tracemalloc.stop()
    assert peak < 20 * MEGABYTE
    told.end(f"bodies of {length} bytes", 100)


@pytest.mark.sqlite
def test_headers(kept: Kept, program: Client, browser: Client) -> None:
    told = Told()
    reads = [
        one for one in operations() if one.name in ("batches_list", "kitchens_retrieve", "labels_of_batch")
    ]
    for name, headers in HEADERS.items():
        for one in reads:
            told.look(f"{one.name}: {name}", program.get(address(one, kept.at), headers=headers))  # type: ignore[arg-type]
        declare = next(one for one in operations() if one.name == "batches_declare")
        with undone():
            answer = program.post(
                address(declare, kept.at),
                body(declare.name, kept.at),
                content_type="application/json",
                headers={"Idempotency-Key": "q", **headers},
            )
        told.look(f"declare: {name}", answer)  # type: ignore[arg-type]
        if "Cookie" not in headers:
            told.look(name, browser.get("/about-me/", headers=headers))  # type: ignore[arg-type]
    told.end("headers", 80)


@pytest.mark.sqlite
def test_addresses(kept: Kept, program: Client, browser: Client) -> None:
    """Behind the question mark of every page and list, and in the place of a name in the path."""
    told = Told()
    odd = [
        quote(WORDS[name][:3000].encode(errors="surrogatepass"))
        for name in ("script", "NUL", "surrogate", "digits")
    ]
    for number, page in enumerate({page.name: page for page in PAGES}.values()):
        where = page.address(kept.subject.values).partition("?")[0]
        for query in odd[number % 2 : number % 2 + 1]:
            names = (
                "again",
                "code",
                "load",
                "shift",
                "sheet",
                "start",
                "next",
                "live",
                "correct",
                "day",
                "food",
            )
            sent = "&".join(f"{name}={query}" for name in names)
            told.look(f"{page.name}?{query[:20]}", browser.get(f"{where}?{sent}"))  # type: ignore[arg-type]
    for one in [one for one in operations() if one.method == "get"]:
        asked = [
            one["name"]
            for one in schema()["paths"][one.path]["get"].get("parameters", [])
            if one["in"] == "query"
        ]
        for query in odd if asked else []:
            sent = "&".join(f"{name}={query}" for name in asked)
            told.look(f"{one.name}?{query[:20]}", program.get(f"{address(one, kept.at)}?{sent}"))  # type: ignore[arg-type]
    for query in odd:
        for where in (f"/kitchens/{query}/", f"/{query}", f"/api/v1/{query}", f"/calendars/{query}.ics"):
            told.look(where[:40], browser.get(where), refused=True)  # type: ignore[arg-type]
    told.end("addresses", 150)


def test_words_in_every_field_of_every_form(kept: Kept, browser: Client) -> None:
    told = Told()
    for name, (where, sends, texts) in forms_of(browser, kept.subject).items():
        for number, field in enumerate(texts):
            for kind in {"script", "NUL", "digits", [*WORDS][number % len(WORDS)]} - {"surrogate"}:
                with undone():
                    answer = browser.post(where, {**sends, field: WORDS[kind]}, follow=True)
                told.look(f"{name}, {field}: {kind}", answer)  # type: ignore[arg-type]
    told.end("words in forms", 200)


def test_what_was_typed_is_there_again_when_it_is_refused(kept: Kept, browser: Client) -> None:
    where = reverse("home:intake", args=[kept.subject.values["kitchen"], kept.subject.values["day"]])
    sent = {"food": SCRIPT, "amount": "7", "unit": "jars", "jar": "quart", "pack": "hot"}
    page = browser.post(where, {**sent, "arrives": "08:00", "picks_up": "17:00"})
    assert page.status_code == 422
    assert b'value="&lt;script&gt;quill()&lt;/script&gt;"' in page.content
    assert b'value="7"' in page.content


@pytest.mark.sqlite
@pytest.mark.parametrize("name", FILES)
def test_files(kept: Kept, browser: Client, name: str) -> None:
    told = Told()
    values = kept.subject.values
    for where in (
        reverse("home:intake-table", args=[values["kitchen"], values["day"]]),
        reverse("helping:upload", args=[values["kitchen"]]),
    ):
        for called in ("../../q.ics", "q\x00.csv"):
            with undone():
                answer = browser.post(where, {"file": SimpleUploadedFile(called, FILES[name])}, follow=True)
            told.look(f"{name} as {called[:20]!r}", answer)  # type: ignore[arg-type]
    told.end(f"files: {name}", 4)


@pytest.mark.sqlite
@pytest.mark.filterwarnings("ignore::pytest.PytestUnraisableExceptionWarning")  # Broken off in a finaliser.
def test_calendars() -> None:
    """Each is read, refused, or broken off; that the last happens is shown beside the reader's own tests."""
    now = timezone.now()
    window = Window(starts_at=now, ends_at=now + timedelta(days=200), zone=ZoneInfo("America/Denver"))
    told = Told()
    for content in CALENDARS.values():
        told.count += 1
        try:
            with soon_over():
                assert len(read_busy(content, window).spans) <= MOST_SPANS
        except (BadCalendar, TooLong):
            continue
    told.end("calendars", 50)


@pytest.mark.sqlite
def test_cells_of_tables(kept: Kept) -> None:
    told = Told()
    at = kept.at
    good = dict(zip(HEADINGS, ("snap_beans", "9", "jars", "pint", "raw", "", "", ""), strict=True))
    for column in HEADINGS:
        for name, words in WORDS.items():
            told.count += 1
            cells = {**good, column: words[:3000].replace("\r\n", " ")}
            line = ",".join('"{}"'.format(cell.replace('"', '""')) for cell in cells.values())
            text = ",".join(HEADINGS) + f"\n{line}\n"
            with suppress(BadTable):
                [row] = read_rows(
                    kitchen=at.site.kitchen, harvest_day_id=at.day.pk, text=text, actor=at.site.lead
                )
                assert row.problems, f"{column}: {name}"
    told.end("cells", 90)


@pytest.mark.sqlite
def test_script_in_every_column_is_inert_on_every_page(kept: Kept, browser: Client) -> None:
    """Planted past every form, so that no check of one stands in for the page that shows it."""
    told = Told()
    planted = 0
    with undone(), connection.cursor() as cursor:
        cursor.execute("SELECT name FROM sqlite_master WHERE type = 'trigger'")
        for (trigger,) in cursor.fetchall():
            cursor.execute(f"DROP TRIGGER {trigger}")  # A name of our own database.
        for model, field in text_columns():
            unique = {
                str(number): SCRIPT + str(number)
                for number in model._base_manager.values_list("pk", flat=True)
            }
            for pk, words in unique.items():
                try:
                    with transaction.atomic():
                        model._base_manager.filter(pk=pk).update(**{field.name: words[: field.max_length]})
                except Exception:  # noqa: BLE001, S112  # A constraint that allows no such words is a refusal too.
                    continue
                planted += 1
        for page in PAGES:
            told.look(page.name, browser.get(page.address(kept.subject.values)))  # type: ignore[arg-type]
    assert planted > 100
    told.end(f"pages over {planted} planted scripts", 60)


def test_every_page_forbids_script_of_others(kept: Kept, browser: Client) -> None:
    """The second wall, should a page once forget the first."""
    page: Page = PAGES[0]
    policy = browser.get(page.address(kept.subject.values))["Content-Security-Policy"]
    assert "default-src 'none'" in policy
    assert "script-src 'self'" in policy
    assert "unsafe" not in policy
