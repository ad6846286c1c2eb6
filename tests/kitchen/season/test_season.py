"""A season counted and drawn: what counts, what does not, and what is asked of the database."""

from __future__ import annotations

from datetime import timedelta
from html import escape
from xml.etree import ElementTree

import pytest
from django.db import connection
from django.test import Client
from django.test.utils import CaptureQueriesContext
from django.utils import timezone

from kitchen.equipment.models import CannerTime, Purpose
from kitchen.planning.loads import hold_load
from kitchen.planning.models import HarvestDay, Load
from kitchen.season import urls
from kitchen.season.drawing import Bar, Chart
from kitchen.season.queries import Seals, Season, season_of, years_of
from scheduler.caution import CAUTION
from tests.factories.canner_runs import Run, make_bean_run, make_beans_out
from tests.factories.shelf import add_lots, count_seals, make_shelf
from tests.factories.sites import make_site
from tests.factories.walks import addresses, answers, signed_in

pytestmark = pytest.mark.django_db


@pytest.fixture
def run(monkeypatch: pytest.MonkeyPatch) -> Run:
    """Seven quarts out and counted, five of them sealed; three days later."""
    made = make_shelf(sealed=7)
    count_seals(made, sealed=5, unsealed=1, correct=True)
    monkeypatch.setattr(timezone, "now", lambda: made.at(0) + timedelta(days=3))
    return made


def season(run: Run, year: int = 2026) -> Season:
    return season_of(run.site.kitchen, year, timezone.now())


def found(run: Run) -> dict[str, str]:
    values = {"kitchen": run.site.kitchen.slug, "year": 2026}
    return addresses("season", urls.urlpatterns, values)


def test_jars_and_the_count_that_stands(run: Run) -> None:
    (food,) = season(run).foods
    assert (food.food, food.jars) == (run.portion.batch.food_name, 7)
    assert food.seals == Seals(sealed=5, unsealed=1, broken=1)
    assert season(run).months == ((9, food.seals),)
    assert season(run).seals.percent_sealed == pytest.approx(500 / 7)


def test_jars_still_in_a_canner_and_cancelled_loads_do_not_count(run: Run) -> None:
    site = make_site()
    planned = make_bean_run(site)
    assert season(planned).jars == 0
    Load.objects.filter(pk=planned.load.pk).update(state="cancelled")
    assert (season(planned).jars, season(planned).seals.percent_sealed) == (0, None)


def test_hours_of_loads_and_of_members_bookings(run: Run) -> None:
    start = run.at(600)
    booked = {"kitchen": run.site.kitchen, "canner": run.site.weighted, "purpose": Purpose.SLOT}
    CannerTime.objects.create(starts_at=start, ends_at=start + timedelta(hours=2), **booked)
    for given in (
        {"occupies": False},
        {"held_until": start},
        {"starts_at": timezone.now(), "ends_at": timezone.now() + timedelta(hours=1)},
        {"starts_at": start - timedelta(days=300), "ends_at": start - timedelta(days=299)},
    ):
        CannerTime.objects.create(
            **{"starts_at": start + timedelta(hours=3), "ends_at": start + timedelta(hours=4)}
            | booked
            | given
        )
    used = {one.name: (round(one.hours, 6), one.loads) for one in season(run).canners}
    assert used[run.site.weighted.name] == (117 / 60 + 2, 1)
    assert used[run.site.boiling.name] == (0, 0)


def test_each_rule_counts_once_a_load(run: Run) -> None:
    told = [
        "Vented 8 of 10 minutes (rule S4).",
        "Rested 3 of 10 minutes (rule S4).",
        "Processed 9 (rules S6, S16).",
    ]
    hold_load(load=run.fresh(), deviations=[*told, "A lid was chipped."], actor=run.site.lead)
    assert season(run).deviations == (("S4", 1), ("S6", 1), ("other", 1))
    assert season(run).loads_with_deviation == 1


def test_another_year_and_another_kitchen_are_left_out(run: Run) -> None:
    make_beans_out(make_site())
    assert season(run).jars == 7
    assert season(run, 2025).jars == 0
    day = HarvestDay.objects.get(pk=run.day.pk)
    day.pk, day.uuid = None, run.load.uuid
    day.date = day.date.replace(year=2025)
    day.save()
    assert years_of(run.site.kitchen) == [2026, 2025]


def test_a_food_is_drawn_longest_first_and_figures_stand_beside(run: Run) -> None:
    told = signed_in(run.site.lead).get(found(run)["newest"]).content.decode()
    assert escape(CAUTION) in told
    assert "7 jars in 1 load; of the jars checked 71.4\N{NO-BREAK SPACE}% sealed; 0 with a deviation." in told
    assert told.count("<svg") == told.count('role="img"') == 3
    assert "No deviation has been recorded in this year." in told
    assert "<style" not in told
    assert "style=" not in told


@pytest.mark.parametrize("name", sorted(str(one.name) for one in urls.urlpatterns))
def test_only_leads_see_it(run: Run, name: str) -> None:
    for user in (run.site.member, run.site.operator, make_site().lead):
        assert answers(signed_in(user), found(run)[name]) == {404}
    assert Client().get(found(run)[name]).status_code == 302
    assert signed_in(run.site.lead).get(found(run)[name]).status_code == 200


def test_a_year_without_harvest_days_is_not_found(run: Run) -> None:
    address = found(run)["year"].replace("2026", "2024")
    assert signed_in(run.site.lead).get(address).status_code == 404


def test_a_new_kitchen_is_told_what_will_stand_here() -> None:
    site = make_site()
    told = signed_in(site.lead).get(f"/kitchens/{site.kitchen.slug}/season/").content.decode()
    assert "No jar has come out of a canner in this year." in told
    assert "<svg" not in told


def test_forty_loads_are_asked_like_one(run: Run) -> None:
    lead = signed_in(run.site.lead)

    def asked() -> int:
        with CaptureQueriesContext(connection) as queries:
            assert lead.get(found(run)["newest"]).status_code == 200
        return len(queries)

    one = asked()
    add_lots(run, 40)
    assert (asked(), season(run).jars) == (one, 287)


def test_a_drawing_is_whole_and_named() -> None:
    chart = Chart(
        key="seals",
        title='Seals & "lids" <all>',
        description="One bar a month.",
        bars=(Bar(words="May: <90> & more", parts=(90, 9.9, 0.1)), Bar(words="June", parts=(100, 0, 0))),
        legend=("sealed", "not sealed", "broken"),
        most=100,
    )
    root = ElementTree.fromstring(chart.svg)  # noqa: S314  (drawn here)
    space = "{http://www.w3.org/2000/svg}"
    names = root.attrib["aria-labelledby"].split()
    assert [root.find(f".//*[@id='{name}']").text for name in names] == [  # type: ignore[union-attr]  # They are there.
        'Seals & "lids" <all>',
        "One bar a month.",
    ]
    bars = [one for one in root.iter(f"{space}rect") if float(one.attrib["y"]) > 40]
    assert [one.attrib["fill"] for one in bars] == [
        "currentColor",
        "url(#seals-hatched)",
        "url(#seals-dotted)",
        "currentColor",
    ]
    widths = [float(one.attrib["width"]) for one in bars]
    assert widths[0] / widths[3] == pytest.approx(0.9, abs=0.001)
    assert widths[2] == 1.5
    assert {one.attrib["id"] for one in root.iter(f"{space}pattern")} == {"seals-hatched", "seals-dotted"}
