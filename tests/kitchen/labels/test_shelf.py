"""The lists of a shelf are kept under all that they show: whatever changes shows at the next look."""

from __future__ import annotations

from datetime import datetime, timedelta
from importlib import import_module
from random import Random

import pytest
from django.apps import apps
from django.db import connection
from django.urls import reverse
from django.utils import timezone

from kitchen.batches.models import Batch
from kitchen.labels.actions import move_jars
from kitchen.labels.models import MoveKind, ShelfMove
from kitchen.labels.queries import Lot, lots_of_load, lots_of_portion
from kitchen.labels.shelf import lots_shelved, shelved_in
from kitchen.members.models import Kitchen, User
from kitchen.planning.loads import hold_load
from kitchen.planning.models import Load, LoadPortion
from tests.factories.canner_runs import Run
from tests.factories.shelf import add_lots, count_seals, make_shelf
from tests.factories.walks import sections_of

pytestmark = pytest.mark.django_db


@pytest.fixture
def run() -> Run:
    """A shelf with two lots, both counted."""
    made = make_shelf()
    add_lots(made, 1)
    return made


def shown(run: Run) -> str:
    address = reverse("labels:whole-shelf", args=[run.site.kitchen.slug])
    return "\n".join(sections_of(run.site.lead, address).values())


def test_each_thing_that_changes_shows_at_once(run: Run) -> None:
    load, batch = Load.objects.filter(pk=run.load.pk), Batch.objects.filter(pk=run.portion.batch_id)
    load.update(deviation="The gauge stood at 8 lb for three minutes.")  # Told once the load is on hold.
    ended = load.get().process_ended_at or load.get().jars_out_at
    assert ended is not None
    changes = [
        (batch, "food_name", "Runner beans"),
        (batch, "jar", "quart" if batch.get().jar == "pint" else "pint"),
        (User.objects.filter(pk=batch.get().member_id), "display_name", "Petra Quillan"),
        (User.objects.filter(pk=batch.get().member_id), "display_name", ""),
        (User.objects.filter(pk=batch.get().member_id), "email", "petra@kitchen.example"),
        (load, "lot_code", "TY-BEAN-9"),
        (load, "process_ended_at", ended - timedelta(days=40)),
        (Kitchen.objects.filter(pk=run.site.kitchen.pk), "best_by_months", 6),
        (Kitchen.objects.filter(pk=run.site.kitchen.pk), "slug", "elsewhere"),
        (load, "on_hold", True),
        (load, "deviation", "The gauge stood at 7 lb for three minutes."),
        (LoadPortion.objects.filter(pk=run.portion.pk), "jars", 2),
        (load, "discarded", True),
    ]
    before = shown(run)
    for rows, column, value in changes:
        assert rows.update(**{column: value}) == 1
        run.site.kitchen.refresh_from_db()
        after = shown(run)
        assert after != before, column
        before = after


def test_jars_that_leave_and_the_day_on_which_they_are_past_their_best(
    run: Run, monkeypatch: pytest.MonkeyPatch
) -> None:
    before = shown(run)
    move_jars(portion=run.portion, kind=MoveKind.USED, jars=1, by=run.site.member)
    after = shown(run)
    assert after != before
    assert "past its best" not in after
    late: datetime = timezone.now() + timedelta(days=800)
    monkeypatch.setattr("kitchen.labels.views.timezone.now", lambda: late)
    assert "past its best" in shown(run)


def has_jars_left(load: Load) -> bool:
    """Reckoned anew, from every count and move of the load."""
    return any(
        lot.sealed is None
        or sum(
            -one.jars if one.kind == MoveKind.PUT_BACK else one.jars
            for one in ShelfMove.objects.filter(portion=lot.portion)
        )
        < lot.sealed
        for lot in lots_of_load(load)
    )


@pytest.mark.parametrize("seed", range(8))
def test_a_load_is_used_up_as_long_as_nothing_of_it_is_left(run: Run, seed: int) -> None:
    """Whatever is taken, put back and counted again, in whatever order."""
    chance, seen = Random(seed), set[bool]()  # noqa: S311  # It only has to be the same each time.
    for _ in range(12):
        (lot,) = lots_of_portion(run.portion)
        step, moves = chance.choice(("take", "put back", "count")), ShelfMove.objects.count()
        if step == "take" and lot.on_hand:
            kind, jars = MoveKind.USED, chance.choice((1, lot.on_hand, lot.on_hand))
            move_jars(portion=run.portion, kind=kind, jars=jars, by=run.site.member)
        elif step == "put back" and lot.taken:
            move_jars(portion=run.portion, kind=MoveKind.PUT_BACK, jars=1, by=run.site.member)
        elif step == "count":
            count_seals(run, sealed=chance.randint(lot.taken, 7), correct=True)
        load = Load.objects.get(pk=run.load.pk)
        left = has_jars_left(load)
        assert not (load.used_up and left)
        assert load.used_up == (not left) or moves == ShelfMove.objects.count()  # A move settles it.
        assert (run.portion in [one.portion for one in whole(run)]) == left
        seen.add(left)
    assert True in seen


def whole(run: Run) -> list[Lot]:
    return lots_shelved(run.site.kitchen, shelved_in(run.site.kitchen))


def test_jars_of_a_used_up_load_show_again_when_it_is_put_on_hold(run: Run) -> None:
    move_jars(portion=run.portion, kind=MoveKind.USED, jars=7, by=run.site.member)
    assert Load.objects.get(pk=run.load.pk).used_up
    assert run.portion not in [one.portion for one in whole(run)]
    hold_load(load=run.load, deviations=["The gauge was found high (rule S8)."], actor=run.site.operator)
    assert run.portion in [one.portion for one in whole(run)]


def test_loads_that_were_used_up_before_are_found_by_the_migration(run: Run) -> None:
    move_jars(portion=run.portion, kind=MoveKind.USED, jars=7, by=run.site.member)
    Load.objects.update(used_up=False)
    migration = import_module("kitchen.labels.migrations.0004_what_is_used_up")
    migration.note(apps, connection.SchemaEditorClass(connection))
    assert list(Load.objects.filter(used_up=True)) == [run.load]
    assert [one.load.used_up for one in whole(run)] == [False]
