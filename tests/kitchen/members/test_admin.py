"""The admin pages: a lead sees their own kitchen, changes it through actions, and nobody sees another's."""

from __future__ import annotations

import pytest
from django.contrib import admin
from django.contrib.messages import get_messages
from django.test import Client
from django.urls import reverse

from kitchen.audit.queries import about
from kitchen.equipment.models import Burner, Canner, GaugeCheck
from kitchen.members.admin import LeadAdmin
from kitchen.members.models import ConfirmedProcess, Kitchen, Membership, Role, User
from tests.factories.sites import Site, declare, make_open_day, make_site, publish

pytestmark = pytest.mark.django_db

OURS = [model for model, page in admin.site._registry.items() if isinstance(page, LeadAdmin)]


@pytest.fixture
def site() -> Site:
    made = make_site()
    User.objects.filter(pk=made.lead.pk).update(is_staff=True)
    return made


def signed_in(user: User) -> Client:
    client = Client()
    client.force_login(User.objects.get(pk=user.pk))
    return client


def address(row: object, page: str = "change") -> str:
    """The admin page of a row."""
    assert isinstance(row, Kitchen | Canner | Membership | Burner | ConfirmedProcess)
    return reverse(f"admin:{row._meta.app_label}_{row._meta.model_name}_{page}", args=[row.pk])


def form_of(client: Client, where: str) -> dict[str, object]:
    """What the page's form would send unchanged."""
    form = client.get(where).context["adminform"].form
    return {bound.html_name: "" if bound.value() is None else bound.value() for bound in form}


@pytest.mark.parametrize("model", OURS)
def test_every_list_opens_for_a_lead_and_shows_nothing_of_another_kitchen(
    site: Site, model: type[Kitchen]
) -> None:
    elsewhere = make_site()
    declare(elsewhere, make_open_day(elsewhere))
    publish(elsewhere, elsewhere.kitchen.harvest_days.get())
    answer = signed_in(site.lead).get(
        reverse(f"admin:{model._meta.app_label}_{model._meta.model_name}_changelist")
    )
    assert answer.status_code == 200
    page = answer.content.decode()
    for foreign in (elsewhere.kitchen.name, elsewhere.member.email, elsewhere.kitchen.site_code + "-"):
        assert foreign not in page


@pytest.mark.parametrize("role", ["operator", "member"])
def test_nobody_but_a_lead_gets_in(site: Site, role: str) -> None:
    user = getattr(site, role)
    User.objects.filter(pk=user.pk).update(is_staff=True)
    answer = signed_in(user).get(reverse("admin:equipment_canner_changelist"))
    assert answer.status_code == 403


def test_a_row_of_another_kitchen_cannot_be_opened(site: Site) -> None:
    answer = signed_in(site.lead).get(address(make_site().weighted))
    assert answer.status_code == 302
    assert answer["Location"] == reverse("admin:index")


def test_a_policy_changes_through_its_action(site: Site) -> None:
    client, where = signed_in(site.lead), address(site.kitchen)
    client.post(where, {**form_of(client, where), "cool_down_minutes": 55})
    assert Kitchen.objects.get(pk=site.kitchen.pk).cool_down_minutes == 55
    event = about(site.kitchen).get()
    assert (event.action, event.actor, event.after) == ("change_policy", site.lead, {"cool_down_minutes": 55})


def test_a_refusal_is_a_message_and_changes_nothing(site: Site) -> None:
    client, where = signed_in(site.lead), address(site.weighted)
    answer = client.post(where, {**form_of(client, where), "inside_diameter_in": 2})
    assert answer.status_code == 302
    (told,) = get_messages(answer.wsgi_request)
    assert "Measure it" in told.message
    assert Canner.objects.get(pk=site.weighted.pk).inside_diameter_in == 12.5


def test_a_canner_changes_through_its_action(site: Site) -> None:
    client, where = signed_in(site.lead), address(site.weighted)
    client.post(where, {**form_of(client, where), "own_counts": '{"pint": 9}'})
    assert Canner.objects.get(pk=site.weighted.pk).own_counts == {"pint": 9}
    assert about(site.weighted).get().action == "change_canner"


def test_a_gauge_check_is_added_but_never_for_another_kitchen(site: Site) -> None:
    where = reverse("admin:equipment_gaugecheck_add")
    given = {"checked_on": "2026-08-01", "error_psi": "0.5", "checked_by": "Office"}
    client = signed_in(site.lead)
    client.post(where, {**given, "canner": make_site().dial.pk})
    assert not GaugeCheck.objects.exists()
    client.post(where, {**given, "canner": site.dial.pk})
    assert GaugeCheck.objects.get().recorded_by == site.lead


def test_the_last_lead_stays_lead(site: Site) -> None:
    membership = Membership.objects.get(user=site.lead)
    client = signed_in(site.lead)
    client.post(address(membership), {"role": Role.MEMBER})
    membership.refresh_from_db()
    assert membership.role == Role.LEAD


def test_a_confirmation_is_added_and_withdrawn(site: Site) -> None:
    client = signed_in(site.lead)
    client.post(
        reverse("admin:members_confirmedprocess_add"),
        {"kitchen": site.kitchen.pk, "process_key": "row", "publication": "AIB 539 (2015)"},
    )
    confirmed = ConfirmedProcess.objects.get()
    assert confirmed.confirmed_by == site.lead
    client.post(address(confirmed, "delete"), {"post": "yes"})
    assert not ConfirmedProcess.objects.exists()


def test_equipment_is_never_deleted_here(site: Site) -> None:
    assert signed_in(site.lead).post(address(site.weighted, "delete"), {"post": "yes"}).status_code == 403
    assert signed_in(site.lead).post(address(site.weighted.burner), {"name": "X"}).status_code == 403
