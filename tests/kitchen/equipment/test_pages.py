"""The pages of the equipment: from nothing to a canner that may be used, and who may do what."""

from __future__ import annotations

from datetime import timedelta

import pytest
from django.urls import reverse
from django.utils import timezone

from kitchen.audit.models import AuditEvent
from kitchen.equipment.bridge import can_be_used
from kitchen.equipment.models import Burner, Canner, CoolingTable, GaugeCheck, Kettle
from kitchen.equipment.views import THINGS
from tests.factories.sites import Site, make_site
from tests.factories.walks import rows, signed_in

pytestmark = pytest.mark.django_db


@pytest.fixture
def site() -> Site:
    return make_site()


def at(site: Site, name: str, *more: object) -> str:
    return reverse(f"equipment:{name}", args=[site.kitchen.slug, *more])


def canner_given(site: Site, **changes: str) -> dict[str, str]:
    given = {
        "code": "P9",
        "name": "Long Tom",
        "kind": "dial",
        "burner": str(site.kitchen.burners.order_by("pk")[0].uuid),
        "inside_diameter_in": "12.25",
        "inside_depth_in": "11",
        "layers": "1",
    }
    return given | changes


def test_what_stands_in_a_kitchen_is_added_and_corrected(site: Site) -> None:
    client = signed_in(site.lead)
    client.post(at(site, "new", "burners"), {"name": "Back left", "power_w": "3000", "efficiency": "0.4"})
    burner = Burner.objects.get(name="Back left")
    client.post(at(site, "new", "kettles"), {"name": "Copper", "volume_qt": "30", "burner": str(burner.uuid)})
    client.post(at(site, "new", "tables"), {"name": "By the window", "area_sq_in": "1200"})
    assert Kettle.objects.get(name="Copper").burner == burner
    client.post(
        at(site, "thing", "burners", burner.uuid),
        {"name": "Back left", "power_w": "3500", "efficiency": "0.4"},
    )
    burner.refresh_from_db()
    assert burner.power_w == 3500
    changed = AuditEvent.objects.get(action="change_burner")
    assert (changed.before["power_w"], changed.after["power_w"]) == (3000, 3500)
    listed = client.get(at(site, "everything")).content.decode()
    for name in ("Back left", "Copper", "By the window"):
        assert name in listed


@pytest.mark.parametrize("what", THINGS)
def test_a_form_shows_what_is_known_and_saving_it_changes_nothing(site: Site, what: str) -> None:
    Kettle.objects.filter(kitchen=site.kitchen).update(burner=site.kitchen.burners.first())
    row = THINGS[what].model._default_manager.filter(kitchen=site.kitchen).order_by("pk")[0]
    before = {field.name: getattr(row, field.name) for field in row._meta.fields}
    client, page = signed_in(site.lead), at(site, "thing", what, row.uuid)
    form = client.get(page).context["form"]
    sent = {one.html_name: one.value() for one in form if one.value() is not None}
    assert client.post(page, sent).status_code == 302
    row.refresh_from_db()
    assert {field.name: getattr(row, field.name) for field in row._meta.fields} == before


@pytest.mark.parametrize(
    ("what", "wrong"),
    [
        ("burners", {"name": "B", "power_w": "100", "efficiency": "0.4"}),
        ("burners", {"name": "B", "power_w": "3000", "efficiency": "0.99"}),
        ("burners", {"name": "Burner 0", "power_w": "3000", "efficiency": "0.4"}),
        ("kettles", {"name": "K", "volume_qt": "-1"}),
        ("tables", {"name": "T", "area_sq_in": "0"}),
        ("tables", {"name": "", "area_sq_in": "100"}),
    ],
)
def test_what_cannot_be_is_refused_in_words_and_what_was_typed_stays(
    site: Site, what: str, wrong: dict[str, str]
) -> None:
    before = rows()
    answer = signed_in(site.lead).post(at(site, "new", what), wrong)
    assert answer.status_code == 422
    assert 'role="alert"' in answer.content.decode()
    assert rows()["equipment.Burner"] == before["equipment.Burner"]
    assert Kettle.objects.count() == 2
    assert CoolingTable.objects.count() == 1


def test_a_dial_canner_is_of_use_once_its_gauge_was_checked(site: Site) -> None:
    client = signed_in(site.lead)
    page = client.post(at(site, "new-canner"), canner_given(site, count_pint="9"))["Location"]
    canner = Canner.objects.get(code="P9")
    assert canner.own_counts == {"pint": 9}
    assert "It may not be used today." in client.get(page).content.decode()
    today = timezone.now().astimezone(site.kitchen.zone).date()
    check = {"checked_on": today.isoformat(), "error_psi": "0.5", "checked_by": "Extension office"}
    signed_in(site.operator).post(at(site, "check-gauge", canner.uuid), check)
    assert can_be_used(Canner.objects.get(pk=canner.pk), today)
    shown = client.get(page).content.decode()
    assert "It may be used today." in shown
    assert "shows 0.50 lb above the true pressure" in shown
    later = check | {"checked_on": (today + timedelta(days=1)).isoformat()}
    assert client.post(at(site, "check-gauge", canner.uuid), later).status_code == 422
    beyond = client.post(at(site, "check-gauge", canner.uuid), check | {"error_psi": "16"})
    assert "beyond belief" in beyond.content.decode()
    assert GaugeCheck.objects.filter(canner=canner).count() == 1


def test_a_weight_has_no_gauge_to_check(site: Site) -> None:
    client, check = signed_in(site.lead), at(site, "check-gauge", site.weighted.uuid)
    assert check not in client.get(at(site, "canner", site.weighted.uuid)).content.decode()
    given = {"checked_on": "2026-05-01", "error_psi": "0", "checked_by": "A"}
    assert client.post(check, given).status_code == 422


def test_what_is_known_of_a_canner_is_changed_and_only_that_is_recorded(site: Site) -> None:
    client, page = signed_in(site.lead), at(site, "canner", site.weighted.uuid)
    form = client.get(page).context["form"]
    sent = {one.html_name: one.value() for one in form if one.value() not in (None, False)}
    assert client.post(page, sent).status_code == 302
    assert not AuditEvent.objects.filter(action="change_canner").exists()
    client.post(page, sent | {"cool_quart": "55"})
    changed = AuditEvent.objects.get(action="change_canner")
    assert changed.after == {"own_cool_down_minutes": {"quart": 55}}
    refused = client.post(page, sent | {"cool_quart": "5"})  # Rule S5.
    assert refused.status_code == 422
    site.weighted.refresh_from_db()
    assert site.weighted.own_cool_down_minutes == {"quart": 55}


def test_an_operator_withdraws_and_only_a_lead_returns(site: Site) -> None:
    operator, canner = signed_in(site.operator), site.weighted
    assert operator.post(at(site, "withdraw", canner.uuid), {"reason": " "}).status_code == 422
    operator.post(at(site, "withdraw", canner.uuid), {"reason": "The gasket leaks"})
    canner.refresh_from_db()
    assert canner.out_of_service_reason == "The gasket leaks"
    assert operator.post(at(site, "return", canner.uuid)).status_code == 403
    signed_in(site.lead).post(at(site, "return", canner.uuid))
    canner.refresh_from_db()
    assert not canner.out_of_service_reason


def test_nobody_else_sees_or_changes_equipment_and_no_other_kitchens_is_found(site: Site) -> None:
    elsewhere = make_site()
    burner, foreign = site.kitchen.burners.order_by("pk")[0], elsewhere.kitchen.burners.order_by("pk")[0]
    pages = [
        at(site, "everything"),
        at(site, "new-canner"),
        at(site, "canner", site.dial.uuid),
        at(site, "new", "burners"),
        at(site, "thing", "burners", burner.uuid),
    ]
    for page in pages:
        assert signed_in(site.member).get(page).status_code == 403
        assert signed_in(elsewhere.lead).get(page).status_code == 404
    for page in (pages[1], *pages[3:]):
        assert signed_in(site.operator).get(page).status_code == 403
    lead = signed_in(site.lead)
    assert lead.get(at(site, "thing", "burners", foreign.uuid)).status_code == 404
    assert lead.get(at(site, "canner", elsewhere.dial.uuid)).status_code == 404
    assert lead.get(at(site, "new", "spoons")).status_code == 404
    with_theirs = lead.post(at(site, "new-canner"), canner_given(site, burner=str(foreign.uuid)))
    assert with_theirs.status_code == 422
    kettle = lead.post(
        at(site, "new", "kettles"), {"name": "K", "volume_qt": "9", "burner": str(foreign.uuid)}
    )
    assert kettle.status_code == 422
