"""The newcomer's script, as it stands in the guide, against a kitchen that is served."""

from __future__ import annotations

import subprocess
import sys
from collections.abc import Iterator
from datetime import timedelta
from pathlib import Path
from threading import Event, Thread
from time import monotonic

import pytest
from django.conf import settings
from django.db import connection
from django.test import Client
from django.utils import timezone
from pytest_django.live_server_helper import LiveServer

from kitchen.batches.models import Batch, Slot
from kitchen.members.models import CannerTraining
from kitchen.planning.models import JobState, PlanJob
from kitchen.planning.running import run_job
from tests.factories.furnished import bearer
from tests.factories.sites import Site, make_open_day, make_site

SCRIPT = Path(settings.BASE_DIR) / "fixtures" / "api" / "newcomer.py"


@pytest.fixture
def site(transactional_db: None) -> Site:
    """With a harvest day to come."""
    made = make_site()
    make_open_day(made, day=timezone.now().astimezone(made.kitchen.zone).date() + timedelta(days=3))
    assert CannerTraining.objects.exists()
    return made


@pytest.fixture
def worker(transactional_db: None) -> Iterator[None]:
    """Makes the plans that are asked for, as a worker would."""
    over = Event()

    def work() -> None:
        while not over.wait(0.1):
            for job in PlanJob.objects.filter(state=JobState.WAITING):
                run_job(job.pk, clock=monotonic)
        connection.close()

    thread = Thread(target=work)
    thread.start()
    yield
    over.set()
    thread.join()


@pytest.mark.sqlite  # Served as the embedded kitchen is.
def test_a_newcomer_does_all_of_it(site: Site, worker: None, live_server: LiveServer) -> None:
    token = bearer(site.lead, site)["Authorization"].removeprefix("Bearer ")
    done = subprocess.run(
        [sys.executable, str(SCRIPT), live_server.url, token],
        capture_output=True,
        text=True,
        timeout=120,
        check=False,
    )
    assert done.returncode == 0, done.stderr
    said = dict(line.split(": ", 1) for line in done.stdout.splitlines())
    assert list(said) == ["Brought", "Booked", "Planned", "Calendar"]
    assert said["Brought"].startswith("14 quart jars of ")
    assert said["Planned"].endswith("loads, 0 batches left out")
    assert Batch.objects.filter(jars=14).count() == Slot.objects.count() == 1
    path = said["Calendar"].removeprefix(settings.KITCHEN_URL)
    assert Client().get(path).content.startswith(b"BEGIN:VCALENDAR")
