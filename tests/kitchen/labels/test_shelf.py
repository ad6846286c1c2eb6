"""The lists of a shelf are kept under all that they show: whatever changes shows at the next look."""

from __future__ import annotations

from datetime import datetime, timedelta

import pytest
from django.urls import reverse
from django.utils import timezone

from kitchen.batches.models import Batch
from kitchen.labels.actions import move_jars
from kitchen.labels.models import MoveKind
from kitchen.members.models import Kitchen, User
from kitchen.planning.models import Load, LoadPortion
from tests.factories.canner_runs import Run
from tests.factories.shelf import add_lots, make_shelf
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
