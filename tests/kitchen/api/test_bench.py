"""The bench of the lists: what it reads, and that it leaves nothing behind."""

from __future__ import annotations

from io import StringIO
from itertools import count

import pytest
from django.core.management import CommandError, call_command

from kitchen.api.measuring import LISTS, measure
from tests.factories.furnished import furnish
from tests.factories.walks import rows
from tests.kitchen.api.operations import operations, schema

pytestmark = pytest.mark.django_db


def test_every_list_is_measured_and_nothing_is_left_behind() -> None:
    site = furnish().site
    before, tick = rows(), count()
    measured = list(measure(site.kitchen, 2, lambda: next(tick) / 1000))
    assert rows() == before
    assert [one.address.partition("?")[0].rpartition("/")[2] for one in measured] == ["healthz", *LISTS]
    assert {round(one.p95_ms, 6) for one in measured} == {1}
    assert next(one.rows for one in measured if "/members" in one.address) == 4


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
    lines = out.getvalue().splitlines()
    assert len(lines) == 2 + 1 + len(LISTS)
    assert lines[2].split()[-2:] == ["1.0", "healthz"]
    with pytest.raises(CommandError, match="No such kitchen"):
        call_command("bench", "api", "--kitchen", "nowhere", stdout=out)
