"""The demo: loaded once, planned, published, and true to its description."""

from __future__ import annotations

from collections.abc import Iterator
from datetime import UTC, date, datetime, timedelta
from io import StringIO

import pytest
from django.core.management import CommandError, call_command
from pytest_django import DjangoDbBlocker

from kitchen.batches.models import Batch, Slot
from kitchen.demo.actions import load_demo, next_saturday, plan_demo
from kitchen.equipment.bridge import can_be_used
from kitchen.equipment.models import CannerKind
from kitchen.helping.queries import clashes_of, said_in
from kitchen.members.models import Kitchen, User
from kitchen.planning.models import DayState, HarvestDay, Load, LoadState, PlanJob
from kitchen.planning.queries import published_job
from kitchen.reminders.models import Reminder, State
from kitchen.rota.models import Attendance
from kitchen.seals.models import OfferState, ReprocessOffer, SealCheck
from tests.factories.kept_rows import kept_rows

pytestmark = pytest.mark.django_db

WEDNESDAY = datetime(2026, 9, 9, 12, tzinfo=UTC)
SATURDAY = date(2026, 9, 12)


@pytest.fixture(scope="module")
def loaded(django_db_setup: None, django_db_blocker: DjangoDbBlocker) -> Iterator[Kitchen]:
    """The demo as it was loaded once; each test changes it for itself alone."""
    with kept_rows(django_db_blocker):
        yield load_demo(now=WEDNESDAY).kitchen


@pytest.fixture
def kitchen(loaded: Kitchen, db: None) -> Kitchen:
    return Kitchen.objects.get(pk=loaded.pk)


@pytest.mark.parametrize(
    ("today", "saturday"),
    [
        (date(2026, 9, 11), SATURDAY),
        (date(2026, 9, 6), SATURDAY),
        (date(2026, 9, 5), SATURDAY),
        (SATURDAY, date(2026, 9, 19)),
    ],
)
def test_the_day_to_come_is_the_first_saturday_after_today(today: date, saturday: date) -> None:
    assert next_saturday(today) == saturday


def test_the_kitchen_is_as_described(kitchen: Kitchen) -> None:
    day = kitchen.harvest_days.get(date=SATURDAY)
    assert kitchen.altitude_ft > 1000
    assert {canner.kind for canner in kitchen.canners.all()} == set(CannerKind)
    assert kitchen.canners.count() >= 6
    assert kitchen.burners.count() >= 4
    assert day.batches.count() == 20
    assert Attendance.objects.filter(harvest_day=day).values("user").distinct().count() == 15
    assert Slot.objects.count() == 1


def test_people_said_what_they_like_and_one_is_busy_while_down_to_help(kitchen: Kitchen) -> None:
    users = {user.email.partition("@")[0]: user.pk for user in User.objects.all()}
    said = said_in(kitchen, users.values())
    assert len(said) == 8
    assert said[users["corin"]].learning
    assert said[users["thea"]].cannot == {"kettle"}
    assert said[users["rilla"]].comes_with == users["ned"]
    day = kitchen.harvest_days.get(date=SATURDAY)
    (busy,) = clashes_of(day.attendances.all()).values()
    (one,) = busy
    assert (one.calendar.membership.user_id, one.starts_at.astimezone(kitchen.zone).hour) == (
        users["member"],
        13,
    )


def test_one_gauge_is_due_soon_and_one_overdue(kitchen: Kitchen) -> None:
    soon, overdue = kitchen.canners.get(code="P1"), kitchen.canners.get(code="P2")
    assert can_be_used(soon, SATURDAY)
    assert not can_be_used(soon, SATURDAY + timedelta(days=30))
    assert not can_be_used(overdue, SATURDAY)


def test_the_past_day_has_its_records(kitchen: Kitchen) -> None:
    day = kitchen.harvest_days.get(date=SATURDAY - timedelta(days=14))
    loads = Load.objects.filter(harvest_day=day)
    assert (day.state, {load.state for load in loads}) == (DayState.CLOSED, {LoadState.CLOSED})
    (held,) = loads.filter(on_hold=True)
    assert held.deviation == "Processed 18 of 25 minutes (rule S6)."
    offer = ReprocessOffer.objects.get()
    assert (offer.jars, offer.state) == (1, OfferState.EXPIRED)
    assert SealCheck.objects.filter(broken=1).count() == 1
    of_past_loads = Reminder.objects.filter(portion__load__in=loads)
    assert set(of_past_loads.values_list("state", flat=True)) == {State.CANCELLED}


def test_everybody_can_sign_in_with_the_password_that_is_printed(kitchen: Kitchen) -> None:
    again = load_demo(now=WEDNESDAY)
    assert all(User.objects.get(email=email).check_password(again.password) for email in again.emails)


def test_loading_again_changes_nothing(kitchen: Kitchen) -> None:
    def rows() -> tuple[int, ...]:
        return tuple(model.objects.count() for model in (Kitchen, User, HarvestDay, Batch, Load))

    before = rows()
    again = load_demo(now=WEDNESDAY + timedelta(days=30))
    assert (again.kitchen, again.fresh, rows()) == (kitchen, False, before)


def test_the_day_is_planned_once_and_shown_with_the_judge_s_verdict(kitchen: Kitchen) -> None:
    day = plan_demo(kitchen=kitchen, today=WEDNESDAY.date(), seconds=1)
    assert day is not None
    assert (day.state, day.version) == (DayState.PUBLISHED, 1)
    assert plan_demo(kitchen=kitchen, today=WEDNESDAY.date(), seconds=1) == day
    day.refresh_from_db()
    assert day.version == 1
    told = show()
    assert "Quillbrook Shared Kitchen, Saturday 12 September 2026, 2,450 ft" in told
    assert told.endswith("The judge found no broken rule.\n")


def test_a_broken_rule_is_shown_and_fails(kitchen: Kitchen) -> None:
    """Planted: the caution is taken out of the kept plan (rule S17)."""
    job = published_job(kitchen.harvest_days.get(date=SATURDAY - timedelta(days=14)))
    assert job is not None
    assert job.plan is not None
    job.plan["caution"] = ""
    job.save()
    with pytest.raises(CommandError, match="1 broken"):
        show()


def test_without_a_published_day_there_is_nothing_to_show(kitchen: Kitchen) -> None:
    PlanJob.objects.update(published_at=None)
    with pytest.raises(CommandError, match="No such harvest day"):
        show()


def test_after_the_last_day_there_is_nothing_to_plan(kitchen: Kitchen) -> None:
    assert plan_demo(kitchen=kitchen, today=date(2027, 1, 1)) is None


def show() -> str:
    """What show_day prints."""
    out = StringIO()
    call_command("show_day", stdout=out)
    return out.getvalue()
