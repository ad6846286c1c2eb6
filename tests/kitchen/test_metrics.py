"""The figures for whoever watches over the kitchen, and who may read them."""

from __future__ import annotations

from datetime import timedelta

import pytest
from django.test import Client
from django.utils import timezone
from prometheus_client.parser import text_string_to_metric_families
from pytest_django import DjangoAssertNumQueries, Settings

from kitchen.reminders.actions import schedule_for_load
from kitchen.reminders.models import Reminder, State, SweepRun
from tests.factories.loads import load_of_one

pytestmark = pytest.mark.django_db


def figures(client: Client, **headers: str) -> dict[tuple[str, str], float]:
    """Each figure by its name and state, read by an independent parser."""
    answer = client.get("/metrics", headers=headers)
    assert answer.status_code == 200
    assert answer.headers["Content-Type"].startswith("text/plain; version=0.0.4")
    return {
        (sample.name, sample.labels.get("state", "")): sample.value
        for family in text_string_to_metric_families(answer.content.decode())
        for sample in family.samples
    }


def test_they_are_what_the_database_holds(client: Client) -> None:
    load = load_of_one(process_ended_at=timezone.now() - timedelta(hours=14))
    schedule_for_load(load=load, jars_out_at=timezone.now() - timedelta(hours=13))
    wall = timezone.now() - timedelta(seconds=70)
    SweepRun.objects.create(wall=wall, elapsed_seconds=1, finished_at=wall, step_seconds=300)
    found = figures(client)
    assert found["kitchen_reminders_overdue", ""] == 1
    assert found["kitchen_reminders_oldest_overdue_seconds", ""] == pytest.approx(3600, abs=60)
    assert {state: found["kitchen_reminders", state] for state in State.values} == {
        state: Reminder.objects.filter(state=state).count() for state in State.values
    }
    assert found["kitchen_sweep_age_seconds", ""] == pytest.approx(70, abs=60)
    assert found["kitchen_clock_steps", ""] == 1
    assert sum(many for (name, _), many in found.items() if name == "kitchen_loads") == 1
    assert found["kitchen_kitchens", ""] == 1


def test_a_sweep_that_never_was_has_no_age(client: Client) -> None:
    assert ("kitchen_sweep_age_seconds", "") not in figures(client)


def test_nobody_s_name_or_address_is_among_them(client: Client) -> None:
    load = load_of_one()
    member = load.portions.get().batch.member
    page = client.get("/metrics").content.decode()
    assert member.email not in page
    assert member.display_name not in page
    assert load.harvest_day.kitchen.name not in page


def test_many_rows_cost_no_more_queries(
    client: Client, django_assert_num_queries: DjangoAssertNumQueries
) -> None:
    load_of_one()
    with django_assert_num_queries(9):
        client.get("/metrics")


@pytest.mark.parametrize(
    "headers",
    [{"X-Forwarded-For": "127.0.0.1"}, {"Forwarded": "for=127.0.0.1"}],
    ids=["X-Forwarded-For", "Forwarded"],
)
def test_without_a_token_only_this_machine_reads_them_and_no_proxy_on_it(
    client: Client, headers: dict[str, str]
) -> None:
    assert client.get("/metrics", REMOTE_ADDR="127.0.0.1").status_code == 200
    assert client.get("/metrics", REMOTE_ADDR="::1").status_code == 200
    assert client.get("/metrics", REMOTE_ADDR="192.0.2.7").status_code == 404
    assert client.get("/metrics", REMOTE_ADDR="").status_code == 404
    assert client.get("/metrics", headers=headers).status_code == 404


def test_behind_a_proxy_they_need_a_token(client: Client, settings: Settings) -> None:
    settings.KITCHEN_PROXIES = 1
    assert client.get("/metrics").status_code == 404
    settings.KITCHEN_METRICS_TOKEN = "shown by the watch alone"  # noqa: S105
    assert client.get("/metrics").status_code == 404
    assert client.get("/metrics", headers={"Authorization": "Bearer another"}).status_code == 404
    assert figures(client, Authorization="Bearer shown by the watch alone")


def test_they_are_only_read(client: Client) -> None:
    assert client.post("/metrics").status_code == 405
