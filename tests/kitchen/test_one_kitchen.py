"""Rows of one kitchen never hang on those of another, whoever writes them: the database itself refuses it."""

from __future__ import annotations

from dataclasses import replace

import pytest
from django.apps import apps
from django.core.management import call_command
from django.db import IntegrityError, connection, transaction
from django.db.models import F, ForeignKey, Model

from kitchen.one_kitchen import TIES, Tie, laid, lay, lift, triggers
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
    return field.related_model._default_manager.filter(**{rest: kitchen}).first()


def test_no_row_can_be_hung_on_another_kitchen_s(here: Furnished, there: Furnished) -> None:
    """Each tie that there are rows for; every row here is also written again as it is, which must go on."""
    tried, open_ties = 0, []
    for tie in TIES:
        rows = tie.model._default_manager.filter(**{tie.home: here.site.kitchen})
        for path in tie.others:
            foreign, field = lone(tie.model, path, there.site.kitchen), path.split("__")[0]
            row = rows.first()
            if row is None or foreign is None:
                open_ties.append(f"{tie.of}.{field}")
                continue
            tried += 1
            if tie.of in APPEND_ONLY:
                row.pk = None
                setattr(row, field, foreign)
                with pytest.raises(IntegrityError, match="of one kitchen"), transaction.atomic():
                    row.save(force_insert=True)
                continue
            mine = tie.model._default_manager.filter(pk=row.pk)
            with transaction.atomic():
                mine.update(**{field: F(field)})
                transaction.set_rollback(True)
            with pytest.raises(IntegrityError, match="of one kitchen"), transaction.atomic():
                mine.update(**{field: foreign})
    assert tried >= 20
    assert len(open_ties) <= 8, open_ties


def test_a_new_row_is_refused_as_well(here: Furnished, there: Furnished) -> None:
    canner = here.site.dial
    canner.pk, canner.uuid, canner.code = None, there.site.kitchen.uuid, "99"
    canner.burner = there.site.dial.burner
    with pytest.raises(IntegrityError, match="of one kitchen"), transaction.atomic():
        canner.save(force_insert=True)


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
