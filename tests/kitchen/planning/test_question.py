"""A harvest day's rows as the planner's question."""

from __future__ import annotations

from datetime import UTC, datetime, time, timedelta

import pytest

from kitchen.batches.actions import book_slot, cancel_batch
from kitchen.equipment.actions import take_out_of_service
from kitchen.errors import BadHarvestDay
from kitchen.members.actions import change_policy, confirm_process
from kitchen.planning.bridge import day_digest, day_of, dump_day, read_day
from kitchen.planning.models import Load
from kitchen.rota.actions import attend, withdraw_attendance
from kitchen.rota.models import Attendance
from scheduler.interval import Span
from scheduler.problem import Policy
from tests.factories.loads import make_day, make_kitchen
from tests.factories.sites import DAY, Site, declare, make_open_day, make_site, publish

pytestmark = pytest.mark.django_db

HOUR = 60


@pytest.fixture
def site() -> Site:
    return make_site()


def test_times_become_minutes_since_local_midnight(site: Site) -> None:
    day = make_open_day(site)
    batch = declare(site, day)
    question = day_of(day)
    assert question.origin == datetime(2026, 9, 12, 6, tzinfo=UTC)
    assert question.opening == (Span(7 * HOUR, 20 * HOUR),)
    assert [(one.id, one.jars, one.arrival, one.pickup) for one in question.batches] == [
        (str(batch.pk), 7, 7 * HOUR, 20 * HOUR - 1)
    ]


def test_an_arrival_within_a_minute_counts_from_the_next_and_a_pick_up_from_the_last(site: Site) -> None:
    day = make_open_day(site)
    batch = declare(site, day)
    batch.arrives_at += timedelta(seconds=1)
    batch.picks_up_at += timedelta(seconds=59)
    batch.save()
    question = day_of(day).batches[0]
    assert (question.arrival, question.pickup) == (7 * HOUR + 1, 20 * HOUR - 1)


def test_the_kitchen_s_own_figures_replace_the_usual_ones(site: Site) -> None:
    batch = declare(site, make_open_day(site))
    batch.prep_person_minutes_per_jar, batch.kettle_minutes = 0.0, 0
    batch.save()
    assert batch.harvest_day is not None
    question = day_of(batch.harvest_day).batches[0]
    assert (question.prep_person_minutes_per_jar, question.kettle_minutes) == (0.0, 0)


def test_people_are_those_who_said_when_with_their_training(site: Site) -> None:
    day = make_open_day(site, helpers=False)
    for user, starts, ends in ((site.member, 8, 10), (site.member, 11, 12), (site.lead, 7, 20)):
        attend(harvest_day=day, user=user, starts_at=site.at(starts), ends_at=site.at(ends), actor=site.lead)
    people = {person.id: person for person in day_of(day).people}
    assert people.keys() == {str(site.member.pk), str(site.lead.pk)}
    assert people[str(site.member.pk)].hours == (Span(8 * HOUR, 10 * HOUR), Span(11 * HOUR, 12 * HOUR))
    assert (people[str(site.lead.pk)].trained, people[str(site.member.pk)].trained) == (True, False)


@pytest.mark.parametrize(
    ("name", "value"),
    [
        ("break_minutes", 20),
        ("break_every_minutes", 120),
        ("meal_minutes", 45),
        ("meal_after_minutes", 240),
        ("longest_shift_minutes", 600),
        ("rest_minutes", 660),
        ("walking_minutes", 3),
    ],
)
def test_the_kitchen_s_rules_for_its_people_are_part_of_the_question(
    site: Site, name: str, value: int
) -> None:
    day = make_open_day(site)
    assert day_of(day).policy == Policy()
    change_policy(kitchen=site.kitchen, changes={name: value}, actor=site.lead)
    day.kitchen.refresh_from_db()
    assert getattr(day_of(day).policy, name) == value


def test_a_member_s_slot_keeps_the_canner_and_its_burner_free_of_loads(site: Site) -> None:
    day = make_open_day(site)
    book_slot(
        kitchen=site.kitchen,
        member=site.member,
        canner=site.boiling,
        starts_at=site.at(9),
        ends_at=site.at(11),
        actor=site.member,
        now=datetime(2026, 9, 1, tzinfo=UTC),
    )
    free = {canner.id: canner.service for canner in day_of(day).canners}
    around = (Span(7 * HOUR, 9 * HOUR), Span(11 * HOUR, 20 * HOUR))
    assert free[str(site.boiling.pk)] == free[str(site.steamer.pk)] == around
    assert free[str(site.weighted.pk)] == (Span(7 * HOUR, 20 * HOUR),)


def test_a_canner_out_of_service_is_never_free(site: Site) -> None:
    day = make_open_day(site)
    take_out_of_service(canner=site.weighted, reason="Lid", actor=site.lead)
    assert {canner.id: canner.service for canner in day_of(day).canners}[str(site.weighted.pk)] == ()


def test_policies_come_along(site: Site) -> None:
    change_policy(
        kitchen=site.kitchen,
        changes={"meat_cut_off": time(16, 30), "cooling_hold_hours": 14, "cool_down_minutes": 50},
        actor=site.lead,
    )
    confirm_process(kitchen=site.kitchen, process_key="row", publication="AIB 539", actor=site.lead)
    policy = day_of(make_open_day(site)).policy
    assert (policy.meat_cut_off, policy.cooling_stand_minutes, policy.cool_down_minutes) == (
        16 * HOUR + 30,
        14 * HOUR,
        50,
    )
    assert policy.confirmed_processes == {"row"}


def test_jars_of_the_day_before_still_take_the_table(site: Site) -> None:
    """Rule S12: the space reaches into the next day."""
    before = make_open_day(site, day=DAY - timedelta(days=1))
    declare(site, before)
    publish(site, before)
    load = Load.objects.get()
    after = make_open_day(site)
    (use,) = day_of(after).tables[0].taken
    assert load.stands_until is not None
    assert use.area_sq_in == load.stand_area_sq_in > 0
    assert use.span.end == (load.stands_until - site.at(0)) // timedelta(minutes=1) > 0
    assert use.span.start < 0
    assert day_of(before).tables[0].taken == ()


def test_on_the_day_the_clocks_go_back_minutes_are_elapsed_minutes() -> None:
    """1 November 2026 has 25 hours in Denver: eight o'clock is nine hours after midnight."""
    day = make_day(make_kitchen(), on=datetime(2026, 11, 1, tzinfo=UTC).date())
    assert day_of(day).opening == (Span(9 * HOUR, 19 * HOUR),)


def test_rows_that_contradict_each_other_are_refused(site: Site) -> None:
    batch = declare(site, make_open_day(site))
    batch.picks_up_at = batch.arrives_at + timedelta(seconds=30)
    batch.save()
    assert batch.harvest_day is not None
    with pytest.raises(BadHarvestDay, match="picked up before"):
        day_of(batch.harvest_day)


def test_the_same_rows_make_the_same_question_and_it_can_be_kept(site: Site) -> None:
    day = make_open_day(site)
    declare(site, day)
    question = day_of(day)
    kept = read_day(dump_day(question))
    assert (kept, day_digest(kept)) == (question, day_digest(day_of(day)))


def test_whatever_changes_the_day_changes_its_digest(site: Site) -> None:
    day = make_open_day(site)
    batch = declare(site, day)
    seen = [day_digest(day_of(day))]

    def look() -> None:
        day.kitchen.refresh_from_db()
        seen.append(day_digest(day_of(day)))

    change_policy(kitchen=site.kitchen, changes={"fill_hands": 3}, actor=site.lead)
    look()
    withdraw_attendance(attendance=Attendance.objects.filter(user=site.other).get(), actor=site.other)
    look()
    take_out_of_service(canner=site.weighted, reason="Lid", actor=site.lead)
    look()
    cancel_batch(batch=batch, actor=site.member)
    look()
    assert len(set(seen)) == len(seen)


def test_the_day_s_own_plan_does_not_change_the_question(site: Site) -> None:
    day = make_open_day(site)
    declare(site, day)
    before = day_digest(day_of(day))
    publish(site, day)
    assert day_digest(day_of(day)) == before
