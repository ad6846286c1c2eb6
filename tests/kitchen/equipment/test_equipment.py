"""Adding and changing equipment, gauge checks and service (rule S8)."""

from __future__ import annotations

from datetime import UTC, date, datetime
from decimal import Decimal

import pytest
from django.db import IntegrityError, transaction

from kitchen.audit.queries import about
from kitchen.equipment import models
from kitchen.equipment.actions import (
    add_burner,
    add_canner,
    add_cooling_table,
    add_kettle,
    change_canner,
    check_usable,
    record_gauge_check,
    return_to_service,
    take_out_of_service,
)
from kitchen.equipment.bridge import as_canner, can_be_used, why_out_of_service
from kitchen.equipment.models import Canner
from kitchen.equipment.queries import newest_check
from kitchen.errors import BadSetting, BadTime, NotAllowed, OutOfService
from scheduler.canner import MOST_LAYERS
from scheduler.canner_kind import CannerKind
from scheduler.jars import JarSize
from tests.factories.sites import DAY, Site, make_site

pytestmark = pytest.mark.django_db

NOW = datetime(2026, 9, 1, tzinfo=UTC)


@pytest.fixture
def site() -> Site:
    return make_site()


def check(site: Site, on: date, error_psi: str = "0", *, now: datetime = NOW) -> models.GaugeCheck:
    """A check of the dial gauge, recorded by the operator."""
    return record_gauge_check(
        canner=site.dial,
        checked_on=on,
        error_psi=Decimal(error_psi),
        checked_by="Office",
        actor=site.operator,
        now=now,
    )


def test_the_kinds_are_the_planner_s() -> None:
    assert list(models.CannerKind.values) == [kind.value for kind in CannerKind]


def test_a_canner_becomes_the_planner_s_value(site: Site) -> None:
    change_canner(canner=site.weighted, changes={"own_counts": {"pint": 9}}, actor=site.lead)
    canner = as_canner(site.weighted, on=DAY, service=())
    assert (canner.id, canner.kind, canner.burner_id) == (
        str(site.weighted.pk),
        CannerKind.WEIGHTED,
        str(site.weighted.burner_id),
    )
    assert canner.own_counts == {JarSize.PINT: 9}


@pytest.mark.parametrize(
    "wrong",
    [
        {"inside_diameter_in": 2.0},
        {"layers": MOST_LAYERS + 1},
        {"own_counts": {"pint": 90}},
        {"own_counts": {"bucket": 1}},
        {"own_cool_down_minutes": {"pint": 5}},
        {"own_heat_up_minutes": 0},
        {"name": ""},
        {"code": "lower"},
        {"altitude": 3},
    ],
)
def test_a_canner_that_cannot_be_is_refused_and_nothing_kept(site: Site, wrong: dict[str, object]) -> None:
    before = Canner.objects.values().get(pk=site.weighted.pk)
    with pytest.raises(BadSetting):
        change_canner(canner=site.weighted, changes=wrong, actor=site.lead)
    assert Canner.objects.values().get(pk=site.weighted.pk) == before


def add_steamer(site: Site, name: str) -> Canner:
    """A second steamer with the code S2."""
    return add_canner(
        kitchen=site.kitchen,
        burner=site.dial.burner,
        actor=site.lead,
        code="S2",
        name=name,
        kind="steam",
        inside_diameter_in=12.5,
        inside_depth_in=9.0,
    )


def test_a_canner_is_added_once_by_its_code(site: Site) -> None:
    assert about(add_steamer(site, "Second")).get().action == "add_canner"
    with pytest.raises(BadSetting):
        add_steamer(site, "Third")


def test_a_burner_of_another_kitchen_is_refused(site: Site) -> None:
    with pytest.raises(BadSetting, match="another kitchen"):
        change_canner(canner=site.weighted, changes={"burner": make_site().weighted.burner}, actor=site.lead)


def test_nonsense_is_refused(site: Site) -> None:
    with pytest.raises(BadSetting):
        add_burner(kitchen=site.kitchen, name="Spark", power_w=1, efficiency=0.5, actor=site.lead)
    with pytest.raises(BadSetting):
        add_kettle(kitchen=site.kitchen, name="Thimble", volume_qt=0, actor=site.lead)
    with pytest.raises(BadSetting):
        add_cooling_table(kitchen=site.kitchen, name="Line", area_sq_in=0, actor=site.lead)


def test_only_a_lead_changes_equipment(site: Site) -> None:
    with pytest.raises(NotAllowed):
        add_kettle(kitchen=site.kitchen, name="Kettle 9", volume_qt=10, actor=site.operator)


def test_the_database_refuses_measures_of_nothing(site: Site) -> None:
    for wrong in ({"inside_depth_in": 0}, {"layers": 3}, {"kind": "solar"}):
        with pytest.raises(IntegrityError), transaction.atomic():
            Canner.objects.filter(pk=site.weighted.pk).update(**wrong)


def test_a_dial_gauge_never_checked_is_out_of_service(site: Site) -> None:
    with pytest.raises(OutOfService, match="no recorded check"):
        check_usable(canner=site.dial, on=DAY)


def test_a_check_counts_for_one_year(site: Site) -> None:
    check(site, date(2026, 8, 1))
    days = (date(2026, 7, 31), date(2026, 8, 1), date(2027, 8, 1), date(2027, 8, 2))
    assert [can_be_used(site.dial, day) for day in days] == [False, True, True, False]


@pytest.mark.parametrize(
    ("error_psi", "usable"), [("2", True), ("-2", True), ("2.01", False), ("-2.01", False)]
)
def test_a_gauge_off_by_more_than_2_lb_is_out(site: Site, error_psi: str, usable: bool) -> None:
    check(site, date(2026, 8, 1), error_psi)
    assert can_be_used(site.dial, DAY) is usable


def test_the_newest_check_decides(site: Site) -> None:
    check(site, date(2026, 8, 1), "5")
    right = check(site, date(2026, 8, 1), "0.5")
    check(site, date(2026, 7, 1), "3")
    assert newest_check(site.dial, DAY) == right
    assert can_be_used(site.dial, DAY)


def test_a_check_in_the_future_is_refused_by_the_kitchen_s_own_calendar(site: Site) -> None:
    """At four in the morning UTC it is still the evening before at the kitchen."""
    with pytest.raises(BadTime, match="after today"):
        check(site, date(2026, 9, 1), now=datetime(2026, 9, 1, 4, tzinfo=UTC))


def test_a_weight_needs_no_check(site: Site) -> None:
    with pytest.raises(BadSetting, match="no dial"):
        record_gauge_check(
            canner=site.weighted,
            checked_on=DAY,
            error_psi=Decimal(0),
            checked_by="Office",
            actor=site.lead,
        )


def test_an_operator_withdraws_a_canner_and_a_lead_returns_it(site: Site) -> None:
    take_out_of_service(canner=site.weighted, reason="Lid does not close", actor=site.operator)
    assert "Lid does not close" in why_out_of_service(site.weighted, DAY)
    with pytest.raises(NotAllowed):
        return_to_service(canner=site.weighted, actor=site.operator)
    return_to_service(canner=site.weighted, actor=site.lead)
    check_usable(canner=site.weighted, on=DAY)


def test_a_canner_is_not_withdrawn_without_a_reason(site: Site) -> None:
    with pytest.raises(BadSetting):
        take_out_of_service(canner=site.weighted, reason=" ", actor=site.lead)
