"""The bench itself, at its smallest: in a database of its own, with every page in its table."""

from __future__ import annotations

import os
import re
import subprocess
import sys
from datetime import date
from pathlib import Path

import pytest
from django.core.management import CommandError, call_command
from django.db import connection

from kitchen.bench.measuring import percentile
from kitchen.bench.pages import PAGES
from kitchen.bench.scratch import scratch_database
from kitchen.bench.sites import make_site
from kitchen.members.models import Kitchen

PROJECT = Path(__file__).resolve().parents[3]


@pytest.mark.sqlite
def test_every_page_is_measured_in_a_database_that_is_then_gone(tmp_path: Path) -> None:
    sizes = {"kitchens": 2, "batches": 12, "lines": 120, "requests": 1}
    words = [word for name, size in sizes.items() for word in (f"--{name}", str(size))]
    made = subprocess.run(
        [sys.executable, "-m", "kitchen", "bench", "pages", *words],
        cwd=PROJECT,
        env={**os.environ, "KITCHEN_DATA": str(tmp_path)},
        capture_output=True,
        text=True,
        check=True,
    )
    first, _, *lines, _, last = made.stdout.splitlines()
    assert first.startswith(f"{connection.vendor}, 2 kitchens, 12 batches, 120 lines")
    assert len(lines) == sum(len(page.readers) for page in PAGES)
    assert all(re.search(r" [1-9]\d* +\d+\.\d +\d+\.\d +\d+\.\d +\d+\.\d$", line) for line in lines), lines
    assert re.match(r"The largest ratio of a page is \d+\.\d, of \S+:\S+ ", last)
    assert not (tmp_path / "kitchen.sqlite3").exists()


@pytest.mark.postgres
@pytest.mark.django_db(transaction=True)
def test_on_a_server_the_database_is_made_beside_the_kitchens_and_removed() -> None:
    own = connection.settings_dict["NAME"]
    with scratch_database() as name:
        assert name.startswith("kitchen_bench_")
        assert connection.settings_dict["NAME"] == name
        make_site(1, 1, date(2026, 9, 12))
    assert connection.settings_dict["NAME"] == own
    assert not Kitchen.objects.exists()
    with connection.cursor() as cursor:
        cursor.execute("SELECT count(*) FROM pg_database WHERE datname = %s", [name])
        assert cursor.fetchone() == (0,)


def test_percentiles_are_values_that_were_seen() -> None:
    values = [float(one) for one in range(1, 41)]
    assert (percentile(values, 50), percentile(values, 95), percentile([7.0], 95)) == (20, 38, 7)


def test_less_than_one_of_anything_is_refused() -> None:
    with pytest.raises(CommandError, match="at least one"):
        call_command("bench", "pages", "--batches", "10", "--lines", "5")
