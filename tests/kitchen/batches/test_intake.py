"""Declaring batches: what is refused, with what words, and that nothing is kept then (rule S1)."""

from __future__ import annotations

from datetime import timedelta
from decimal import Decimal

import pytest
from django.db import IntegrityError, transaction

from kitchen.audit.models import AuditEvent
from kitchen.batches import models
from kitchen.batches.actions import cancel_batch, declare_batch, receive_batch, set_batch_state
from kitchen.batches.bridge import food_choices, process_lines, unit_choices
from kitchen.batches.models import Batch, BatchState
from kitchen.batches.queries import batches_of, batches_of_day
from kitchen.batches.rules import VALID_BATCH_NEXT
from kitchen.errors import AlreadyDecided, BadIntake, NotAllowed
from kitchen.members.actions import confirm_process
from kitchen.planning.models import DayState, HarvestDay
from scheduler.jars import JarSize, Pack
from scheduler.problem import MOST_JARS_IN_BATCH
from scheduler.yields import Unit
from tests.factories.sites import Site, make_open_day, make_site

pytestmark = pytest.mark.django_db


@pytest.fixture
def site() -> Site:
    return make_site()


@pytest.fixture
def day(site: Site) -> HarvestDay:
    return make_open_day(site, helpers=False)


def bring(site: Site, day: HarvestDay, **changes: object) -> Batch:
    """A bushel of snap beans in quarts, apart from what a case changes."""
    given: dict[str, object] = {
        "kitchen": site.kitchen,
        "member": site.member,
        "food": "snap_beans",
        "pack": "raw",
        "jar": "quart",
        "amount": Decimal(1),
        "unit": "bushel",
        "arrives_at": day.opens_at,
        "picks_up_at": day.closes_at,
        "actor": site.member,
        "harvest_day_id": day.pk,
    }
    return declare_batch(**{**given, **changes})  # type: ignore[arg-type]  # Each case changes another field.


def test_the_choices_are_the_planner_s() -> None:
    assert list(models.Pack.values) == [pack.value for pack in Pack]
    assert list(models.Jar.values) == [jar.value for jar in JarSize]
    assert list(models.Unit.values) == [unit.value for unit in Unit]
    assert models.MOST_JARS_IN_BATCH == MOST_JARS_IN_BATCH


def test_a_bushel_of_beans_is_planned_at_its_upper_end(site: Site, day: HarvestDay) -> None:
    """A bushel of snap beans makes 12 to 20 quarts. USDA AIB 539, Guide 4, Quantity."""
    batch = bring(site, day)
    assert (batch.jars_low, batch.jars_high, batch.jars) == (12, 20, 20)
    assert list(batches_of_day(day.pk)) == list(batches_of(site.member, site.kitchen)) == [batch]


def test_a_printed_name_is_a_food_too(site: Site, day: HarvestDay) -> None:
    assert bring(site, day, food="Applesauce", pack="hot").food_id == "applesauce"


@pytest.mark.parametrize(
    ("changes", "words"),
    [
        ({"food": "snap beens"}, "No food is called 'snap beens'"),
        ({"food": "mushrooms_whole_or_sliced", "pack": "hot", "unit": "jars"}, "Mushrooms.*rule S1"),
        ({"food": "corn_cream_style", "pack": "hot", "unit": "jars"}, "no printed jar may stand for it"),
        ({"pack": "smoked"}, "'smoked' is not one of the choices"),
        ({"jar": "bucket"}, "'bucket' is not one of the choices"),
        ({"unit": "wagon"}, "'wagon' is not one of the choices"),
        ({"unit": "crate"}, "No yield is published"),
        ({"amount": Decimal(0)}, "The amount is 0"),
        ({"amount": Decimal(-3)}, "The amount is -3"),
        ({"amount": Decimal(10000), "unit": "jars"}, "That would make 10,000 jars"),
        ({"amount": Decimal(0), "unit": "jars"}, "The amount is 0"),
        ({"amount": Decimal("2.5"), "unit": "jars"}, "2.5 jars are not whole jars"),
    ],
)
def test_what_cannot_be_canned_is_refused_in_words(
    site: Site, day: HarvestDay, changes: dict[str, object], words: str
) -> None:
    with pytest.raises(BadIntake, match=words):
        bring(site, day, **changes)
    assert not Batch.objects.exists()
    assert not AuditEvent.objects.exists()


def test_a_refusal_says_what_is_published(site: Site, day: HarvestDay) -> None:
    with pytest.raises(BadIntake) as refusal:
        bring(site, day, food="corn_cream_style", pack="hot", unit="jars")
    assert any("pint" in line for line in refusal.value.published)


def test_a_row_read_on_one_page_waits_for_the_lead(site: Site, day: HarvestDay) -> None:
    brought = {"food": "tomatoes_crushed", "pack": "hot", "jar": "pint", "unit": "bushel"}
    with pytest.raises(BadIntake, match="one page only"):
        bring(site, day, **brought)
    lines = process_lines(
        food="tomatoes_crushed",
        pack="hot",
        jar="pint",
        kinds=["boiling-water"],
        altitude_ft=2450,
        confirmed=frozenset(),
    )
    assert [line.needs_confirmation for line in lines] == [True]
    confirm_process(
        kitchen=site.kitchen, process_key=lines[0].key, publication="AIB 539 (2015)", actor=site.lead
    )
    assert bring(site, day, **brought).food_id == "tomatoes_crushed"


def test_beans_need_a_pressure_canner(site: Site, day: HarvestDay) -> None:
    for canner in (site.weighted, site.dial):
        canner.out_of_service_reason = "Lid"
        canner.save()
    with pytest.raises(BadIntake, match="only under pressure"):
        bring(site, day)


def test_a_pick_up_before_the_arrival_is_refused_by_rule_and_database(site: Site, day: HarvestDay) -> None:
    with pytest.raises(BadIntake, match="before the food arrives"):
        bring(site, day, picks_up_at=day.opens_at)
    batch = bring(site, day)
    with pytest.raises(IntegrityError), transaction.atomic():
        Batch.objects.filter(pk=batch.pk).update(picks_up_at=batch.arrives_at)


@pytest.mark.parametrize(
    "wrong", [{"jars": 0}, {"jars": 2001}, {"amount": 0}, {"jars_high": 1}, {"jar": "x"}]
)
def test_the_database_refuses_what_the_rules_refuse(
    site: Site, day: HarvestDay, wrong: dict[str, object]
) -> None:
    batch = bring(site, day)
    with pytest.raises(IntegrityError), transaction.atomic():
        Batch.objects.filter(pk=batch.pk).update(**wrong)


def test_an_arrival_when_the_kitchen_is_shut_is_refused(site: Site, day: HarvestDay) -> None:
    for arrives in (day.opens_at - timedelta(minutes=1), day.closes_at):
        with pytest.raises(BadIntake, match="07:00 to 20:00"):
            bring(site, day, arrives_at=arrives, picks_up_at=day.closes_at + timedelta(hours=1))


def test_a_day_of_another_kitchen_or_one_that_is_over_is_refused(site: Site, day: HarvestDay) -> None:
    with pytest.raises(BadIntake, match="no such harvest day"):
        bring(site, day, harvest_day_id=make_open_day(make_site()).pk)
    HarvestDay.objects.filter(pk=day.pk).update(state=DayState.CLOSED)
    with pytest.raises(BadIntake, match="is over"):
        bring(site, day)


def test_a_member_declares_for_nobody_else(site: Site, day: HarvestDay) -> None:
    with pytest.raises(NotAllowed):
        bring(site, day, actor=site.other)
    assert bring(site, day, actor=site.lead).member == site.member


def test_the_kettle_corrects_the_jars(site: Site, day: HarvestDay) -> None:
    batch = receive_batch(batch=bring(site, day), jars=15, actor=site.operator)
    assert (batch.jars, batch.jars_high, batch.state) == (15, 20, BatchState.ARRIVED)
    with pytest.raises(BadIntake):
        receive_batch(batch=batch, jars=0, actor=site.operator)


def test_a_cancelled_batch_is_not_planned_and_not_cancelled_twice(site: Site, day: HarvestDay) -> None:
    batch = cancel_batch(batch=bring(site, day), actor=site.member)
    assert not batches_of_day(day.pk).exists()
    with pytest.raises(AlreadyDecided):
        cancel_batch(batch=batch, actor=site.member)
    with pytest.raises(AlreadyDecided):
        receive_batch(batch=batch, actor=site.operator)


def test_no_state_of_a_batch_was_forgotten(site: Site, day: HarvestDay) -> None:
    assert set(VALID_BATCH_NEXT) == set(BatchState)
    batch = bring(site, day)
    with pytest.raises(AlreadyDecided):
        set_batch_state(batch=batch, state=BatchState.DONE, actor=site.lead)


def test_the_form_s_choices() -> None:
    assert ("applesauce", "Applesauce") in food_choices()
    assert unit_choices("snap_beans") == ["jars", "pounds", "bushel"]
    with pytest.raises(BadIntake):
        unit_choices("moon cheese")
