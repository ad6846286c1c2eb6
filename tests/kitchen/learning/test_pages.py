"""The addresses of measured times: who finds them, who may write, what they show, and how many queries they take."""

from __future__ import annotations

from datetime import timedelta
from html import escape

import pytest
from django.db import connection
from django.test import Client
from django.test.utils import CaptureQueriesContext
from django.utils import timezone

from kitchen.audit.models import AuditEvent
from kitchen.batches.models import Batch
from kitchen.learning import urls
from kitchen.learning.models import MeasuredTime, TimedKind
from kitchen.members.models import Kitchen
from scheduler.caution import CAUTION
from scheduler.records_file import read_records
from tests.factories.measured import measure_canner, measure_work
from tests.factories.sites import DAY, Site, declare, make_open_day, make_site
from tests.factories.walks import addresses, answers, rows, signed_in

pytestmark = pytest.mark.django_db

NAMES = [str(one.name) for one in urls.urlpatterns]
WRITING = {"use", "work", "withdraw"}


@pytest.fixture
def site(monkeypatch: pytest.MonkeyPatch) -> Site:
    """It is the evening of the harvest day."""
    made = make_site()
    monkeypatch.setattr(timezone, "now", lambda: made.at(20))
    return made


@pytest.fixture
def batch(site: Site) -> Batch:
    """Seven quarts of raw pack beans, brought this morning, of which prep was timed once."""
    brought = declare(site, make_open_day(site))
    measure_work(site, brought, TimedKind.PREP, [1.2], family=4)
    return brought


def pages(site: Site, *, slug: str = "") -> dict[str, str]:
    """Every address under the kitchen's name or another's; the time is the one that was noted."""
    values = {"kitchen": slug or site.kitchen.slug, "time": MeasuredTime.objects.filter(load=None)[0].pk}
    return addresses("learning", urls.urlpatterns, values)


def given(batch: Batch) -> dict[str, dict[str, str]]:
    """What a browser sends to each writing address."""
    work = {"batch": str(batch.uuid), "kind": "prep", "jars": "7", "hands": "2", "minutes": "42.5"}
    return {"use": {"kept_percent": "90"}, "work": work, "withdraw": {}}


def shown(client: Client, address: str) -> str:
    return " ".join(client.get(address).content.decode().split())


def test_the_table_of_writing_addresses_is_whole() -> None:
    assert {*WRITING, "times", "records"} == set(NAMES)


@pytest.mark.parametrize("name", NAMES)
@pytest.mark.parametrize("own_slug", [False, True], ids=["their kitchen", "own kitchen"])
def test_another_kitchens_times_are_not_found(site: Site, batch: Batch, name: str, own_slug: bool) -> None:
    if own_slug and name != "withdraw":
        return  # One's own kitchen is one's own page.
    elsewhere = make_site()
    address = pages(site, slug=elsewhere.kitchen.slug if own_slug else "")[name]
    stranger, before = signed_in(elsewhere.lead), rows()
    assert answers(stranger, address) == {404}
    assert rows() == before


@pytest.mark.parametrize("name", sorted(WRITING))
def test_a_member_reads_and_does_not_write(site: Site, batch: Batch, name: str) -> None:
    member = signed_in(site.member)
    page = shown(member, pages(site)["times"])
    assert "Plan by these records" not in page
    assert "I timed some work" not in page
    before = rows()
    answer = member.post(pages(site)[name], given(batch)[name], follow=True)
    assert "may not" in answer.content.decode()
    assert rows() == before


def test_an_operator_times_work_and_takes_it_back_and_leaves_the_setting(site: Site, batch: Batch) -> None:
    operator, where = signed_in(site.operator), pages(site)
    operator.post(where["work"], given(batch)["work"])
    timed = MeasuredTime.objects.latest("pk")
    assert (timed.recorded_minutes, timed.hands, timed.usual_minutes) == (42.5, 2, 35)
    answer = operator.post(where["use"], given(batch)["use"], follow=True)
    assert "may not change the kitchen" in answer.content.decode()
    operator.post(where["withdraw"])
    assert MeasuredTime.objects.filter(withdrawn_at__isnull=False).count() == 1


def test_a_lead_changes_the_setting_and_it_is_recorded(site: Site, batch: Batch) -> None:
    """An unticked box is not sent."""
    lead, where = signed_in(site.lead), pages(site)
    lead.post(where["use"], {"kept_percent": "90"})
    kitchen = Kitchen.objects.get(pk=site.kitchen.pk)
    assert (kitchen.plan_by_records, kitchen.kept_percent) == (False, 90)
    line = AuditEvent.objects.get(action="change_policy")
    assert (line.actor, line.before, line.after) == (
        site.lead,
        {"plan_by_records": True, "kept_percent": 80},
        {"plan_by_records": False, "kept_percent": 90},
    )
    assert "Plans do not use these records now." in shown(lead, where["times"])
    lead.post(where["use"], {"kept_percent": "50", "plan_by_records": "on"})
    assert Kitchen.objects.get(pk=site.kitchen.pk).plan_by_records


@pytest.mark.parametrize(
    ("name", "wrong", "said"),
    [
        ("use", {"kept_percent": "99"}, "Choose how many loads"),
        ("work", {"batch": "0" * 32}, "Batch: "),
        ("work", {"kind": "heat_up"}, "Work: "),
        ("work", {"jars": "8"}, "8 jars cannot be of a batch of 7"),
        ("work", {"minutes": "nan"}, "Minutes it took: "),
        ("work", {"hands": "0"}, "People: "),
    ],
)
def test_what_cannot_be_is_refused_in_words_without_a_trace(
    site: Site, batch: Batch, name: str, wrong: dict[str, str], said: str
) -> None:
    lead, before = signed_in(site.lead), rows()
    answer = lead.post(pages(site)[name], given(batch)[name] | wrong, follow=True)
    assert said in answer.content.decode()
    assert rows() == before


def test_a_batch_of_weeks_ago_is_not_offered(site: Site, batch: Batch) -> None:
    Batch.objects.update(arrives_at=site.at(8, day=DAY - timedelta(days=15)))
    page = shown(signed_in(site.operator), pages(site)["times"])
    assert "No batch came in during the last two weeks." in page


def test_an_empty_page_says_how_to_fill_it(site: Site) -> None:
    page = shown(signed_in(site.member), f"/kitchens/{site.kitchen.slug}/measured-times/")
    assert "Nothing is measured yet" in page
    assert "Three loads that agree are believed" in page
    assert escape(CAUTION) in page


def test_the_page_shows_the_estimate_the_data_and_what_plans_use(site: Site, batch: Batch) -> None:
    measure_canner(site, site.weighted, TimedKind.HEAT_UP, [1.5] * 19 + [4.9], usual_minutes=12)
    measure_canner(site, site.weighted, TimedKind.COOL_DOWN, [0.4] * 2 + [0.6] * 12, least_minutes=20)
    lead, where = signed_in(site.lead), pages(site)
    page = shown(lead, where["times"])
    assert "20 times, mostly 1.50 times the estimate, spread 6 %, 1 set aside" in page
    assert "14 times, mostly 0.60 times the estimate, spread 7 %, 2 set aside" in page
    assert "held at the kitchen&#x27;s own setting; never below 20 min (rule S5)" in page
    assert "does not count: forced, rule S5 allows no less than 20 min" in page
    assert "Prep, vegetables" in page


def test_what_plans_use_follows_the_switch(site: Site, batch: Batch) -> None:
    """The heat-up of this canner is 12 min by the estimate."""
    measure_canner(site, site.weighted, TimedKind.HEAT_UP, [2.0] * 20, usual_minutes=12)
    client, address = signed_in(site.lead), pages(site)["times"]
    (section,) = [one for one in client.get(address).context["sections"] if one.title == site.weighted.name]
    line = section.lines[0]
    assert line.expected.planned_minutes > 1.9 * line.expected.usual_minutes
    Kitchen.objects.update(plan_by_records=False)
    (section,) = [one for one in client.get(address).context["sections"] if one.title == site.weighted.name]
    line = section.lines[0]
    assert line.expected.planned_minutes == line.expected.usual_minutes
    assert line.noted == 20


def test_the_records_are_given_as_a_table(site: Site, batch: Batch) -> None:
    measure_canner(site, site.weighted, TimedKind.HEAT_UP, [1.5] * 3)
    answer = signed_in(site.member).get(pages(site)["records"])
    assert answer["Content-Type"] == "text/csv; charset=utf-8"
    assert 'filename="measured-times-2026-09-12.csv"' in answer["Content-Disposition"]
    assert len(read_records(answer.content.decode())) == 4


def test_the_page_takes_as_many_queries_for_one_record_as_for_sixty(site: Site, batch: Batch) -> None:
    client, address = signed_in(site.lead), pages(site)["times"]
    taken = []
    for loads in (1, 20):
        MeasuredTime.objects.filter(load__isnull=False).delete()
        for canner in (site.weighted, site.dial, site.boiling):
            measure_canner(site, canner, TimedKind.HEAT_UP, [1.1] * loads)
        measure_work(site, batch, TimedKind.FILL, [1.0] * loads, family=4)
        client.get(address)
        with CaptureQueriesContext(connection) as queries:
            client.get(address)
        taken.append(len(queries))
    assert taken[0] == taken[1]
