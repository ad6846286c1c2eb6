"""Opening kitchens, changing their policies, and what the database holds them to."""

from __future__ import annotations

from datetime import time

import pytest
from django.db import IntegrityError, transaction

from kitchen.audit.queries import about
from kitchen.errors import BadSetting, NotAllowed
from kitchen.members.actions import (
    change_policy,
    change_site,
    confirm_process,
    create_kitchen,
    set_opening_hours,
    withdraw_process,
)
from kitchen.members.models import Kitchen, Role, User
from kitchen.members.queries import confirmed_process_keys, leads_of
from kitchen.members.rules import POLICY_LIMITS
from tests.factories.sites import Site, make_site

pytestmark = pytest.mark.django_db


@pytest.fixture
def site() -> Site:
    return make_site()


def new_kitchen(**changes: object) -> Kitchen:
    given: dict[str, object] = {
        "name": "Pepper Lane",
        "slug": "pepper-lane",
        "site_code": "PL",
        "altitude_ft": 1200,
        "time_zone": "America/Chicago",
        "lead": User.objects.create_user("first@lane.example", "First Fenwick"),
    }
    return create_kitchen(**{**given, **changes})  # type: ignore[arg-type]  # Each case changes another field.


def test_a_new_kitchen_has_its_lead_and_safe_defaults() -> None:
    kitchen = new_kitchen()
    assert [member.role for member in leads_of(kitchen)] == [Role.LEAD]
    assert (kitchen.canners_per_person, kitchen.fill_wait_limit_minutes, kitchen.cool_down_minutes) == (
        2,
        20,
        40,
    )
    assert (kitchen.share_under_longest, kitchen.cooling_hold_hours, kitchen.meat_cut_off) == (
        False,
        24,
        None,
    )


@pytest.mark.parametrize("altitude_ft", [-1, 8001])
def test_an_altitude_outside_the_bands_is_refused(altitude_ft: int) -> None:
    with pytest.raises(BadSetting, match=f"altitude of {altitude_ft} ft"):
        new_kitchen(altitude_ft=altitude_ft)
    assert not Kitchen.objects.exists()


def test_the_highest_printed_altitude_is_taken() -> None:
    assert new_kitchen(altitude_ft=8000).altitude_ft == 8000


@pytest.mark.parametrize(
    "wrong",
    [{"time_zone": "Mars/Olympus"}, {"time_zone": "../etc"}, {"site_code": "q"}, {"slug": "no spaces"}],
)
def test_a_field_that_cannot_be_is_refused(wrong: dict[str, object]) -> None:
    with pytest.raises(BadSetting):
        new_kitchen(**wrong)
    assert not Kitchen.objects.exists()


@pytest.mark.parametrize("name", POLICY_LIMITS)
def test_a_policy_is_held_to_its_limits_by_rule_and_database(site: Site, name: str) -> None:
    least, most, _ = POLICY_LIMITS[name]
    for allowed in (least, most):
        change_policy(kitchen=site.kitchen, changes={name: allowed}, actor=site.lead)
        site.kitchen.refresh_from_db()
        assert getattr(site.kitchen, name) == allowed
    for refused in (least - 1, most + 1):
        with pytest.raises(BadSetting):
            change_policy(kitchen=site.kitchen, changes={name: refused}, actor=site.lead)
        with pytest.raises(IntegrityError), transaction.atomic():
            Kitchen.objects.filter(pk=site.kitchen.pk).update(**{name: refused})


def test_a_policy_change_is_recorded_with_who_and_from_what(site: Site) -> None:
    change_policy(kitchen=site.kitchen, changes={"share_under_longest": True}, actor=site.lead)
    event = about(site.kitchen).get()
    assert (event.actor, event.before, event.after) == (
        site.lead,
        {"share_under_longest": False},
        {"share_under_longest": True},
    )


def test_an_unknown_policy_is_refused(site: Site) -> None:
    with pytest.raises(BadSetting, match="not a policy"):
        change_policy(kitchen=site.kitchen, changes={"altitude_ft": 0}, actor=site.lead)


def test_an_operator_changes_no_policy(site: Site) -> None:
    with pytest.raises(NotAllowed):
        change_policy(kitchen=site.kitchen, changes={"prep_hands": 3}, actor=site.operator)


def test_the_site_is_corrected_within_the_bands(site: Site) -> None:
    change_site(kitchen=site.kitchen, altitude_ft=3100, time_zone="UTC", actor=site.lead)
    with pytest.raises(BadSetting):
        change_site(kitchen=site.kitchen, altitude_ft=9000, time_zone="UTC", actor=site.lead)
    assert Kitchen.objects.get(pk=site.kitchen.pk).altitude_ft == 3100


def test_closing_before_opening_is_refused_by_rule_and_database(site: Site) -> None:
    with pytest.raises(BadSetting, match="cannot close at 08:00"):
        set_opening_hours(kitchen=site.kitchen, weekday=0, hours=[(time(9), time(8))], actor=site.lead)
    with pytest.raises(IntegrityError), transaction.atomic():
        site.kitchen.opening_hours.filter(weekday=0).update(opens=time(9), closes=time(8))


def test_hours_that_overlap_are_refused_and_touching_ones_pass(site: Site) -> None:
    with pytest.raises(BadSetting, match="begin before"):
        set_opening_hours(
            kitchen=site.kitchen,
            weekday=0,
            hours=[(time(8), time(12)), (time(11), time(14))],
            actor=site.lead,
        )
    hours = [(time(8), time(12)), (time(12), time(14))]
    set_opening_hours(kitchen=site.kitchen, weekday=0, hours=hours, actor=site.lead)
    assert list(site.kitchen.opening_hours.filter(weekday=0).values_list("opens", "closes")) == hours


def test_confirming_a_row_needs_the_publication_and_counts_once(site: Site) -> None:
    with pytest.raises(BadSetting):
        confirm_process(kitchen=site.kitchen, process_key="row", publication=" ", actor=site.lead)
    for _ in range(2):
        confirmed = confirm_process(
            kitchen=site.kitchen, process_key="row", publication="AIB 539 (2015)", actor=site.lead
        )
    assert confirmed_process_keys(site.kitchen) == {"row"}
    assert about(confirmed).count() == 1
    withdraw_process(confirmed=confirmed, actor=site.lead)
    assert confirmed_process_keys(site.kitchen) == frozenset()
