"""What a kitchen and a person can take out: everything, nothing of others, and nothing that a spreadsheet runs."""

from __future__ import annotations

import csv
import json
from decimal import Decimal
from io import BytesIO, TextIOWrapper
from zipfile import ZipFile

import pytest
from django.apps import apps
from django.db import connection
from django.test import Client
from django.test.utils import CaptureQueriesContext
from django.utils import timezone, translation

from kitchen.audit.models import AuditEvent
from kitchen.export.actions import export_kitchen
from kitchen.export.tables import TABLES, of_kitchen, of_people
from kitchen.export.writing import data_of
from kitchen.helping.models import BusyCalendar
from kitchen.members.models import Kitchen, User
from kitchen.planning.models import Load
from tests.factories.furnished import Furnished, bearer, furnish
from tests.factories.walks import rows, signed_in

pytestmark = pytest.mark.django_db

# What is not taken out, and why.
LEFT_BEHIND = {
    "reminders.SweepRun": "the program's own watch over its clock, of no kitchen",
    "entrance.SignInCode": "codes for signing in, which are gone after ten minutes",
    "entrance.AccountNews": "messages on their way, which are gone once they are sent; the record says what happened",
    "api.KeptAnswer": "answers to programs, kept for a week, whose facts are in the other tables",
}


@pytest.fixture
def at() -> Furnished:
    return furnish()


def taken(at: Furnished) -> ZipFile:
    with export_kitchen(kitchen=at.site.kitchen, actor=at.site.lead, now=timezone.now()) as file:
        return ZipFile(BytesIO(file.read()))


def table(archive: ZipFile, name: str) -> list[dict[str, str]]:
    with archive.open(name) as raw:
        return list(csv.DictReader(TextIOWrapper(raw, "utf-8", newline="")))


def test_every_table_of_the_program_is_taken_or_named() -> None:
    ours = {model._meta.label for model in apps.get_models() if model.__module__.startswith("kitchen.")}
    assert {one.of for one in TABLES} | set(LEFT_BEHIND) == ours
    assert len({one.file for one in TABLES}) == len(TABLES)


def test_whatever_points_at_a_person_is_theirs_to_read() -> None:
    """A table with a person in it is among one's own data, but for plans, which are about a day."""
    asked = {"planning.PlanJob", "planning.WhatIfJob"}
    for one in TABLES:
        people = {field.name for field in one.model._meta.concrete_fields if field.related_model is User}
        assert one.of in asked or people <= {*one.mine}, one.of


def test_every_row_of_the_kitchen_and_none_of_another_leaves(at: Furnished) -> None:
    furnish()
    archive = taken(at)
    assert archive.testzip() is None
    for one in of_kitchen():
        found = (
            {str(row["id"]) for row in json.loads(archive.read(one.name))}
            if one.as_json
            else {row["id"] for row in table(archive, one.name)}
        )
        mine = one.model._base_manager.filter(**{one.within: at.site.kitchen.pk}).values_list("pk", flat=True)
        assert found == {*map(str, mine)} - (
            {str(AuditEvent.objects.latest("pk").pk)} if one.file == "audit" else set()
        )
    assert len(table(archive, "loads.csv")) == 2 < Load.objects.count()
    assert [row["name"] for row in table(archive, "kitchen.csv")] == [at.site.kitchen.name]


def test_the_readme_names_each_file_and_how_much_is_in_it(at: Furnished) -> None:
    archive = taken(at)
    words = archive.read("README.txt").decode()
    for one in of_kitchen():
        assert f"\n{one.name} (" in words
        assert str(one.about) in words
    assert f"people.csv ({len(table(archive, 'people.csv'))})" in words
    with translation.override("es"):
        assert "Todas las personas que" in taken(at).read("README.txt").decode()


def test_no_secret_leaves(at: Furnished) -> None:
    at.site.lead.set_password("quillbrook-harvest")
    at.site.lead.save()
    bearer(at.site.lead, at.site)
    archive = taken(at)
    everything = b"".join(archive.read(name) for name in archive.namelist()).decode()
    assert at.site.lead.password not in everything
    for one in TABLES:
        for column in {"digest", "password", "claim_token"} & {*one.columns()}:
            assert (one.of, column) == ("records.RecordSignature", "digest")
    assert "my_calendars.csv" not in archive.namelist()


@pytest.mark.parametrize("name", ["=1+1", "+1", "-1", "@SUM(A1)", "\t=1", "\r=1", "  =1", "\uff1d1"])
def test_words_that_look_like_a_formula_are_inert(at: Furnished, name: str) -> None:
    at.site.member.display_name = name
    at.site.member.save()
    [cell] = [
        row["display_name"] for row in table(taken(at), "people.csv") if row["id"] == str(at.site.member.pk)
    ]
    assert cell == f"'{name}"


def test_figures_stay_figures(at: Furnished) -> None:
    at.site.dial.gauge_checks.create(
        checked_on=at.day.date, error_psi=Decimal("-0.5"), checked_by="Extension office"
    )
    assert [row["error_psi"] for row in table(taken(at), "gauge_checks.csv")] == ["0.50", "-0.50"]


def test_who_took_it_is_noted_once(at: Furnished) -> None:
    before = AuditEvent.objects.count()
    taken(at)
    event = AuditEvent.objects.latest("pk")
    assert (event.action, event.actor, AuditEvent.objects.count()) == (
        "export_kitchen",
        at.site.lead,
        before + 1,
    )
    assert event.after["rows"] >= 100


def test_rows_are_read_a_few_at_a_time(at: Furnished) -> None:
    """As many questions for many rows as for few."""
    with CaptureQueriesContext(connection) as few:
        taken(at)
    for _ in range(5):
        bearer(at.site.lead, at.site)
    with CaptureQueriesContext(connection) as many:
        taken(at)
    assert len(few) == len(many)


@pytest.mark.django_db(transaction=True)
def test_the_tables_are_of_one_moment_and_the_connection_is_left_clean() -> None:
    at = furnish()
    names = taken(at).namelist()
    assert len(names) == len(list(of_kitchen())) + 1
    assert not connection.in_atomic_block
    Kitchen.objects.filter(pk=at.site.kitchen.pk).update(
        jar_fee="none"
    )  # Which a read-only view would refuse.


def test_the_page_gives_the_file_to_leads_alone(at: Furnished) -> None:
    address = f"/kitchens/{at.site.kitchen.slug}/take-out/"
    lead = signed_in(at.site.lead)
    assert b"README" in lead.get(address).content
    answer = lead.post(address)
    assert answer["Content-Disposition"].endswith('.zip"')
    assert ZipFile(BytesIO(b"".join(answer.streaming_content))).testzip() is None  # type: ignore[attr-defined]
    before = rows()
    for user, status in ((at.site.operator, 403), (at.site.member, 403), (furnish().site.lead, 404)):
        before = rows()
        assert {signed_in(user).get(address).status_code, signed_in(user).post(address).status_code} == {
            status
        }
        assert before["audit.AuditEvent"] == rows()["audit.AuditEvent"]
    assert Client().post(address).status_code == 302


def test_a_person_takes_what_is_known_of_them_and_nothing_else(at: Furnished) -> None:
    there = furnish()
    there.site.kitchen.memberships.create(user=at.site.member)
    BusyCalendar.objects.create(
        membership=at.site.kitchen.memberships.get(user=at.site.member), kind="file", name="Evenings"
    )
    answer = signed_in(at.site.member).get("/about-me/data/")
    told = json.loads(answer.content)
    assert set(told) == {one.file for one in of_people()}
    assert [one["email"] for one in told["people"]] == [at.site.member.email]
    assert "password" not in told["people"][0]
    assert [one["name"] for one in told["my_calendars"]] == ["Evenings"]
    assert {one["member_id"] for one in told["batches"]} == {at.site.member.pk}
    assert {one["kitchen_id"] for one in told["memberships"]} == {at.site.kitchen.pk, there.site.kitchen.pk}
    assert at.site.other.email not in answer.content.decode()


def test_in_one_kitchen_only_what_that_one_knows(at: Furnished) -> None:
    there = furnish()
    there.site.kitchen.memberships.create(user=at.site.member)
    told = data_of(at.site.member, there.site.kitchen)
    assert told["batches"] == []
    assert [one["kitchen_id"] for one in told["memberships"]] == [there.site.kitchen.pk]
    client = Client(headers=bearer(at.site.member, at.site))
    answer = client.get(f"/api/v1/kitchens/{at.site.kitchen.uuid}/my-data")
    assert [one["kitchen_id"] for one in answer.json()["memberships"]] == [at.site.kitchen.pk]
    assert len(answer.json()["batches"]) == len(data_of(at.site.member)["batches"]) > 0
