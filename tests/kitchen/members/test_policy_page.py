"""What a kitchen decides, on a page: every policy, its limits, and a record of each change."""

from __future__ import annotations

from datetime import time

import pytest
from django.urls import reverse

from kitchen.audit.models import AuditEvent
from kitchen.members.policy import SECTIONS
from kitchen.members.rules import POLICY_FIELDS, POLICY_LIMITS
from tests.factories.sites import Site, make_site
from tests.factories.walks import signed_in

pytestmark = pytest.mark.django_db


@pytest.fixture
def site() -> Site:
    return make_site()


def page(site: Site) -> str:
    return reverse("members:policy", args=[site.kitchen.slug])


def given(site: Site, **changes: str) -> dict[str, str]:
    form = signed_in(site.lead).get(page(site)).context["form"]
    shown = {one.html_name: one.value() for one in form}
    return {
        name: str(value) for name, value in shown.items() if value is not None and value is not False
    } | changes


def test_every_policy_stands_on_the_page_once() -> None:
    told = [name for names in SECTIONS.values() for name in names]
    assert sorted(told) == sorted(POLICY_FIELDS)


def test_saving_what_is_shown_changes_nothing(site: Site) -> None:
    assert signed_in(site.lead).post(page(site), given(site)).status_code == 302
    assert not AuditEvent.objects.filter(action="change_policy").exists()


def test_a_change_is_recorded_with_what_was_before(site: Site) -> None:
    sent = given(site, cool_down_minutes="55", meat_cut_off="16:30", jar_fee="50 cents")
    signed_in(site.lead).post(page(site), sent)
    site.kitchen.refresh_from_db()
    assert (site.kitchen.cool_down_minutes, site.kitchen.meat_cut_off) == (55, time(16, 30))
    changed = AuditEvent.objects.get(action="change_policy")
    assert changed.before["cool_down_minutes"] == 40
    assert set(changed.after) == {"cool_down_minutes", "meat_cut_off", "jar_fee"}


@pytest.mark.parametrize("name", POLICY_LIMITS)
def test_no_policy_leaves_its_limits(site: Site, name: str) -> None:
    least, most, why = POLICY_LIMITS[name]
    before = getattr(site.kitchen, name)
    client, sent = signed_in(site.lead), given(site)
    for wrong in (least - 1, most + 1):
        answer = client.post(page(site), sent | {name: str(wrong)})
        assert answer.status_code == 422
    site.kitchen.refresh_from_db()
    assert getattr(site.kitchen, name) == before
    assert why.replace("'", "&#x27;") in answer.content.decode()


def test_only_a_lead_of_this_kitchen_decides(site: Site) -> None:
    sent = given(site, cool_down_minutes="55")
    for user, status in ((site.operator, 403), (site.member, 403), (make_site().lead, 404)):
        assert signed_in(user).post(page(site), sent).status_code == status
    site.kitchen.refresh_from_db()
    assert site.kitchen.cool_down_minutes == 40
