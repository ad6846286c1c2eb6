"""The press under a table that comes from several tablets at once notes each row once, on either database."""

from __future__ import annotations

from concurrent.futures import ThreadPoolExecutor
from threading import Barrier

import pytest
from django.db import connection

from kitchen.audit.models import AuditEvent
from kitchen.batches.bringing import bring_table
from kitchen.batches.models import Batch
from kitchen.errors import BadTable
from kitchen.planning.models import HarvestDay
from tests.factories.sites import Site, make_open_day, make_site

pytestmark = pytest.mark.django_db(transaction=True)

TABLE = "food,amount,unit,jar,pack\nsnap_beans,9,jars,pint,raw\nsnap_beans,7,jars,quart,raw\n"
PRESSES = 4


def press(site: Site, day: HarvestDay, gate: Barrier) -> int:
    """How many rows this press notes; none when another was quicker."""
    try:
        gate.wait()
        made = bring_table(
            kitchen=site.kitchen,
            harvest_day_id=day.pk,
            text=TABLE,
            actor=site.member,
            looked_at=frozenset({2, 3}),
        )
    except BadTable:
        return 0
    finally:
        connection.close()
    return len(made)


def test_one_of_several_presses_at_once_notes_all_rows() -> None:
    site = make_site()
    day, gate = make_open_day(site, helpers=False), Barrier(PRESSES)
    before = AuditEvent.objects.count()
    with ThreadPoolExecutor(PRESSES) as pool:
        noted = sorted(pool.map(lambda _: press(site, day, gate), range(PRESSES)))
    assert noted == [0] * (PRESSES - 1) + [2]
    assert Batch.objects.count() == 2
    assert AuditEvent.objects.count() == before + 2
