"""Published lines that were seen on one page only: shown with every figure, planned once a lead confirms (rule S1)."""

from __future__ import annotations

import pytest
from django.urls import reverse

from kitchen.audit.models import AuditEvent
from kitchen.batches.bridge import lines_to_confirm
from kitchen.members.models import ConfirmedProcess
from kitchen.members.queries import confirmed_process_keys
from scheduler.printed_process import Confidence
from scheduler.process import process_named
from tests.factories.sites import Site, make_site
from tests.factories.walks import signed_in

pytestmark = pytest.mark.django_db

USDA = "USDA Complete Guide, 2015"


@pytest.fixture
def site() -> Site:
    return make_site()


def page(site: Site) -> str:
    return reverse("batches:lines", args=[site.kitchen.slug])


@pytest.mark.parametrize("altitude_ft", [0, 1000, 1001, 2450, 6001, 8000])
def test_exactly_the_lines_of_one_page_at_this_altitude_wait(altitude_ft: int) -> None:
    found = lines_to_confirm(altitude_ft)
    assert found
    for line in found:
        process = process_named(line.key)
        assert process.confidence is Confidence.ONE_PAGE
        assert process.covers(altitude_ft)
        assert str(process.process_minutes) in line.words
        assert line.acid == tuple(dose.words for dose in process.acid)


def test_a_confirmed_line_is_planned_with_until_it_is_taken_back(site: Site) -> None:
    client, line = signed_in(site.lead), lines_to_confirm(site.kitchen.altitude_ft)[0]
    shown = client.get(page(site)).content.decode()
    assert line.source in shown.replace("&#x27;", "'").replace("&amp;", "&")
    client.post(page(site), {"line": line.key, "publication": USDA})
    assert confirmed_process_keys(site.kitchen) == {line.key}
    confirmed = ConfirmedProcess.objects.get()
    assert (confirmed.publication, confirmed.confirmed_by) == (USDA, site.lead)
    assert USDA in client.get(page(site)).content.decode()
    client.post(reverse("batches:withdraw-line", args=[site.kitchen.slug, confirmed.pk]))
    assert not confirmed_process_keys(site.kitchen)
    actions = AuditEvent.objects.values_list("action", flat=True)
    assert {"confirm_process", "withdraw_process"} <= set(actions)


def test_acid_is_among_the_figures_to_compare(site: Site) -> None:
    line = next(one for one in lines_to_confirm(site.kitchen.altitude_ft) if one.acid)
    shown = signed_in(site.lead).get(page(site)).content.decode()
    assert all(dose in shown for dose in line.acid)


def test_nothing_is_confirmed_without_a_publication_or_outside_the_list(site: Site) -> None:
    client, line = signed_in(site.lead), lines_to_confirm(site.kitchen.altitude_ft)[0]
    elsewhere = next(one for one in lines_to_confirm(8000) if one.key != line.key and "8,000" not in one.band)
    for sent in (
        {"line": line.key, "publication": "  "},
        {"line": line.key},
        {"line": "snap_beans:made-up", "publication": USDA},
        {"publication": USDA},
    ):
        assert client.post(page(site), sent).status_code == 422
    if not process_named(elsewhere.key).covers(site.kitchen.altitude_ft):
        assert client.post(page(site), {"line": elsewhere.key, "publication": USDA}).status_code == 422
    assert not ConfirmedProcess.objects.exists()


def test_only_a_lead_of_this_kitchen_confirms(site: Site) -> None:
    line = lines_to_confirm(site.kitchen.altitude_ft)[0]
    sent = {"line": line.key, "publication": USDA}
    for user, status in ((site.operator, 403), (site.member, 403), (make_site().lead, 404)):
        assert signed_in(user).post(page(site), sent).status_code == status
        assert signed_in(user).get(page(site)).status_code == status
    assert not ConfirmedProcess.objects.exists()
