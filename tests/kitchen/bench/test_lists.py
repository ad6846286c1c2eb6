"""The bench of the lists: what it reads, what it compares with, and that it leaves nothing behind."""

from __future__ import annotations

import os
import subprocess
import sys
from io import StringIO
from itertools import count
from pathlib import Path

import pytest
from django.core.cache import cache
from django.core.management import CommandError, call_command
from django.db import connection
from django.test import Client
from django.test.utils import CaptureQueriesContext, override_settings
from django.urls import reverse

from kitchen.bench.lists import LISTS, NOBODY, SIZES, measure
from kitchen.bench.urls import BARE
from tests.factories.furnished import bearer, furnish
from tests.factories.walks import rows
from tests.kitchen.api.operations import operations, schema

pytestmark = pytest.mark.django_db
PROJECT = Path(__file__).resolve().parents[3]


@override_settings(ROOT_URLCONF="kitchen.bench.urls")
def test_every_list_is_measured_at_both_sizes_and_nothing_is_left_behind() -> None:
    site = furnish().site
    before, tick = rows(), count()
    *lists, nobody = measure(site.kitchen, 2, lambda: next(tick) / 1000)
    assert rows() == before
    assert [[one.name for one in sizes] for sizes in lists] == [[name] * len(SIZES) for name in LISTS]
    assert [one.name for one in nobody] == [NOBODY]
    assert {round(ms, 6) for sizes in lists for one in sizes for ms in (*one.ms, *one.bare_ms)} == {1}
    assert {round(one.ratio, 6) for sizes in lists for one in sizes} == {1}
    assert [one.rows for one in lists[LISTS.index("members")]] == [4, 4]


@override_settings(ROOT_URLCONF="kitchen.bench.urls")
def test_the_bare_operation_settles_who_asks_and_does_nothing_else() -> None:
    """It asks what every list asks before its own rows, in the same order, and counts the request."""
    at = furnish()
    client = Client(headers=bearer(at.site.lead, at.site))
    bare = reverse(BARE, kwargs={"kitchen": at.site.kitchen.uuid})
    client.get(bare)  # Notes that the token is in use.
    asked = {}
    for address in (bare, f"/api/v1/kitchens/{at.site.kitchen.uuid}/hooks"):
        with CaptureQueriesContext(connection) as queries:
            assert client.get(address).status_code == 200
        asked[address] = [one["sql"].partition("WHERE")[0] for one in queries.captured_queries]
    of_bare, of_list = asked.values()
    assert of_list[:-1] == of_bare
    assert client.get(bare).json() == {"id": str(at.site.kitchen.uuid)}
    cache.clear()
    with override_settings(API_PER_MINUTE=1):
        assert [client.get(bare).status_code for _ in range(2)] == [200, 429]
    cache.clear()
    assert Client().get(bare).status_code == 401


def test_the_lists_are_those_of_the_schema() -> None:
    """But for those below a day."""
    below_a_kitchen = {
        one.path.rpartition("/")[2]
        for one in operations()
        if one.method == "get" and one.parts == ["kitchen"] and _is_list(one.path)
    }
    assert set(LISTS) == below_a_kitchen


def _is_list(path: str) -> bool:
    told = schema()["paths"][path]["get"].get("parameters", [])
    return "cursor" in {one["name"] for one in told}


def test_the_command_tells_each_as_a_multiple() -> None:
    site, out = furnish().site, StringIO()
    call_command("bench", "api", "--kitchen", site.kitchen.slug, "--rounds", "2", stdout=out)
    _, head, *lines, nobody, bare, default, largest = out.getvalue().splitlines()
    assert head.count("ratio") == len(SIZES)
    assert [line.split()[0] for line in lines] == list(LISTS)
    assert {len(line.split()) for line in lines} == {1 + 4 * len(SIZES) + 1}
    assert nobody.startswith("/healthz ")
    assert bare.startswith("The bare operation: ")
    assert default.startswith(f"With pages of {SIZES[0]}, the largest ratio is ")
    assert largest.startswith(f"With pages of {SIZES[1]}, the largest ratio is ")
    with pytest.raises(CommandError, match="No such kitchen"):
        call_command("bench", "api", "--kitchen", "nowhere", stdout=out)


@pytest.mark.sqlite
def test_a_database_without_tables_is_refused_with_what_to_do(tmp_path: Path) -> None:
    tried = subprocess.run(
        [sys.executable, "-m", "kitchen", "bench", "api"],
        cwd=PROJECT,
        env={**os.environ, "KITCHEN_DATA": str(tmp_path)},
        capture_output=True,
        text=True,
        check=False,
    )
    assert tried.returncode == 1
    assert tried.stderr.splitlines()[0].startswith("The database lacks tables")
    assert "python -m kitchen migrate" in tried.stderr
    assert "Traceback" not in tried.stderr
