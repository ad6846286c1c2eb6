"""The page on which a table is brought: look first, then press; whatever is refused loses nothing."""

from __future__ import annotations

import re
from html import unescape

import pytest
from django.core.files.uploadedfile import SimpleUploadedFile
from django.http import HttpResponse
from django.test import Client
from django.urls import reverse

from kitchen.batches.models import Batch
from kitchen.members.models import User
from kitchen.planning.models import HarvestDay
from tests.factories.furnished import Furnished, bearer, furnish
from tests.factories.sites import Site, declare, make_open_day, make_site
from tests.factories.walks import signed_in

pytestmark = pytest.mark.django_db

HEAD = "food,amount,unit,jar,pack\n"
BEANS = "snap_beans,9,jars,pint,raw\n"
WRONG = "moon_cheese,9,jars,pint,raw\n"


@pytest.fixture
def site() -> Site:
    return make_site()


@pytest.fixture
def day(site: Site) -> HarvestDay:
    return make_open_day(site, helpers=False)


def sent(day: HarvestDay, user: User, **given: object) -> HttpResponse:
    address = reverse("home:intake-table", args=[day.kitchen.slug, day.uuid])
    return signed_in(user).post(address, given)  # type: ignore[return-value]  # The test client's own kind.


def hidden(page: HttpResponse) -> dict[str, str]:
    """What the press under the rows sends."""
    text = page.content.decode()
    found = dict(re.findall(r'type="hidden" name="(numbers|looked_at)" value="([^"]*)"', text))
    table = re.search(r'<textarea name="table"[^>]*>\n?(.*?)</textarea>', text, re.DOTALL)
    assert table
    return {**found, "table": unescape(table[1]).replace("\n", "\r\n"), "note": "1"}


def test_first_it_looks_then_a_press_notes(site: Site, day: HarvestDay) -> None:
    looked = sent(day, site.member, table=HEAD + BEANS + WRONG)
    assert not Batch.objects.exists()
    words = looked.content.decode()
    assert "1 row can be noted" in words
    assert "1 cannot" in words
    assert "No food is called" in words
    assert sent(day, site.member, **hidden(looked)).status_code == 302
    assert Batch.objects.get().member == site.member
    again = sent(day, site.member, **hidden(looked))
    assert (again.status_code, Batch.objects.count()) == (422, 1)
    assert b"Not the same rows" in again.content


def test_other_rows_than_those_looked_at_are_looked_at_first(site: Site, day: HarvestDay) -> None:
    looked = sent(day, site.member, table=HEAD + BEANS)
    changed = {**hidden(looked), "table": HEAD + BEANS.replace("9", "900")}
    assert sent(day, site.member, **changed).status_code == 200
    assert not Batch.objects.exists()


def test_rows_that_changed_meanwhile_are_shown_again(site: Site, day: HarvestDay) -> None:
    looked = sent(day, site.member, table=HEAD + BEANS)
    batch = declare(site, day, jar="pint", jars=9)
    Batch.objects.filter(pk=batch.pk).update(arrives_at=day.opens_at, picks_up_at=day.closes_at)
    answer = sent(day, site.member, **hidden(looked))
    assert (answer.status_code, Batch.objects.count()) == (422, 1)
    assert b"noted already" in answer.content
    assert b"snap_beans" in answer.content


@pytest.mark.parametrize(
    ("content", "status", "words"),
    [
        ((HEAD + BEANS).encode("utf-16"), 200, "1 row can be noted"),
        (b"PK\x03\x04\x00", 422, "This file is no text."),
        (b"x" * 300_000, 422, "larger than 200 kB"),
        (b"x" * 2_000_000, 422, "larger than 200 kB"),
        (b"", 422, "There is no row in this table."),
    ],
)
def test_files_are_read_or_refused(
    site: Site, day: HarvestDay, content: bytes, status: int, words: str
) -> None:
    answer = sent(day, site.member, file=SimpleUploadedFile("crop.csv", content, "text/csv"), table="kept")
    assert answer.status_code == status
    assert words in answer.content.decode()
    assert not Batch.objects.exists()


def test_what_was_typed_stays(site: Site, day: HarvestDay) -> None:
    answer = sent(day, site.member, table='food,shoe\n"a<b>",1\n')
    assert answer.status_code == 422
    assert hidden(answer)["table"] == 'food,shoe\r\n"a<b>",1\r\n'


def test_script_is_shown_inert(site: Site, day: HarvestDay) -> None:
    answer = sent(day, site.member, table=HEAD + '"<script>alert(1)</script>",9,jars,pint,raw\n')
    assert b"<script>alert" not in answer.content
    assert b"&lt;script&gt;alert" in answer.content


def test_a_program_looks_and_brings_once() -> None:
    at: Furnished = furnish()
    site = at.site
    client = Client(headers=bearer(site.member, site))
    where = f"/api/v1/kitchens/{site.kitchen.uuid}/intake-table"
    given: dict[str, object] = {"day": at.named["day"], "table": HEAD + BEANS + WRONG}
    before = Batch.objects.count()
    looked = client.post(f"{where}/check", given, content_type="application/json").json()["rows"]
    assert [(one["row"], one["jars"], len(one["problems"])) for one in looked] == [(2, 9, 0), (3, None, 1)]
    key = {"Idempotency-Key": "one"}
    refused = client.post(where, given, content_type="application/json", headers=key)
    assert (refused.status_code, refused.json()["code"]) == (422, "bad-table")
    assert refused.json()["problems"][0].startswith("Row 3, Food: ")
    assert Batch.objects.count() == before
    given["skip_wrong"] = True
    answers = [client.post(where, given, content_type="application/json", headers=key) for _ in range(2)]
    assert [one.status_code for one in answers] == [201, 201]
    assert answers[0].json() == answers[1].json()
    assert Batch.objects.count() == before + 1
    assert client.post(where, given, content_type="application/json").json()["code"] == "key-missing"
