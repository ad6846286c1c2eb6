"""Rows of one kitchen never hang on those of another, whoever writes them: the database itself refuses it."""

from __future__ import annotations

from dataclasses import replace

import pytest
from django.apps import apps
from django.core.management import call_command
from django.db import IntegrityError, connection, transaction
from django.db.models import F, ForeignKey, Model
from django.utils import timezone

from kitchen.one_kitchen import TIES, Tie, laid, lay, lift, triggers
from kitchen.seals.models import SealCheck
from tests.factories.furnished import Furnished, furnish

pytestmark = pytest.mark.django_db

# A row that leads to its kitchen in one way only needs no tie.
APPEND_ONLY = {"floor.RunEvent", "records.RecordSignature"}
NO_KITCHEN = {"members.User", "members.Kitchen", "audit.AuditEvent"}


@pytest.fixture
def here() -> Furnished:
    return furnish()


@pytest.fixture
def there() -> Furnished:
    return furnish()


def steps_to_kitchen(model: type[Model]) -> set[str]:
    """The fields of a model from which some path leads to a kitchen, people apart: they may belong to many."""
    found = set()
    for field in model._meta.concrete_fields:
        if not isinstance(field, ForeignKey) or field.related_model._meta.label in (
            "members.User",
            model._meta.label,
        ):
            continue
        if field.related_model._meta.label == "members.Kitchen" or steps_to_kitchen(field.related_model):
            found.add(field.name)
    return found


def test_every_row_that_leads_to_its_kitchen_in_several_ways_is_tied() -> None:
    tied = {tie.of: {path.split("__")[0] for path in (tie.home, *tie.others)} for tie in TIES}
    for model in apps.get_models():
        label = model._meta.label
        ways = steps_to_kitchen(model) if label not in NO_KITCHEN else set()
        if len(ways) > 1:
            assert ways <= tied.get(label, set()), f"{label} leads to a kitchen by {sorted(ways)}"


def lone(model: type[Model], path: str, kitchen: Model) -> Model | None:
    """A row at the first step of a path that belongs to this kitchen."""
    first, _, rest = path.partition("__")
    field = model._meta.get_field(first)
    assert isinstance(field, ForeignKey)
    if not rest:
        return kitchen
    return field.related_model._default_manager.filter(**{rest: kitchen}).first()


def test_no_new_row_is_hung_on_another_kitchen_s(here: Furnished, there: Furnished) -> None:
    """Before anything else about the row is looked at, so nothing else of it needs to be right."""
    site = there.site
    SealCheck.objects.create(
        portion=there.run.portion,
        sealed=7,
        unsealed=0,
        broken=0,
        checked_by=site.member,
        checked_at=timezone.now(),
    )
    for tie in TIES:
        mine, home = lone(tie.model, tie.home, here.site.kitchen), tie.home.split("__")[0]
        assert mine is not None, tie
        for path in tie.others:
            foreign = lone(tie.model, path, site.kitchen)
            assert foreign is not None, f"nothing to hang {tie.of} on by {path}"
            row = tie.model(**{home: mine, path.split("__")[0]: foreign})
            with pytest.raises(IntegrityError, match="of one kitchen"), transaction.atomic():
                tie.model._base_manager.bulk_create([row])


def test_no_row_is_hung_on_another_kitchen_s_later(here: Furnished, there: Furnished) -> None:
    """Every row here may also be written again as it is."""
    tried = set()
    for tie in TIES:
        row = tie.model._default_manager.filter(**{tie.home: here.site.kitchen}).first()
        if row is None or tie.of in APPEND_ONLY:
            continue
        mine = tie.model._default_manager.filter(pk=row.pk)
        for path in tie.others:
            field = path.split("__")[0]
            with transaction.atomic():
                mine.update(**{field: F(field)})
                transaction.set_rollback(True)
            with pytest.raises(IntegrityError, match="of one kitchen"), transaction.atomic():
                mine.update(**{field: lone(tie.model, path, there.site.kitchen)})
        tried.add(tie.of)
    assert {"equipment.Canner", "equipment.CannerTime", "batches.Batch", "batches.Slot"} <= tried
    assert {"planning.Load", "planning.LoadPortion", "rota.Shift", "reminders.Reminder"} <= tried


def test_no_row_moves_to_another_kitchen(here: Furnished, there: Furnished) -> None:
    for model in apps.get_models():
        if any(field.name == "kitchen" for field in model._meta.concrete_fields):
            mine = model._default_manager.filter(kitchen=here.site.kitchen)
            if mine.exists():
                with (
                    pytest.raises(IntegrityError, match=r"appended|kitchen"),
                    transaction.atomic(),
                ):
                    mine.update(kitchen=there.site.kitchen)


def test_the_triggers_come_and_go_with_migrations() -> None:
    names = {one.name for one in triggers()}
    assert laid(connection).keys() == names
    lift(using="default")
    assert not laid(connection)
    call_command("migrate", verbosity=0)
    assert laid(connection).keys() == names
    lay(using="default")
    assert laid(connection).keys() == names


def test_what_a_trigger_says_is_in_its_name() -> None:
    one = next(triggers())
    assert replace(one, condition="FALSE").name != one.name
    assert len(one.name) < 63
    assert Tie("equipment.Canner", "kitchen", ()).model._meta.db_table == one.table
