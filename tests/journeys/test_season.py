"""A lead looks at the season, wide and narrow, in light and dark."""

from __future__ import annotations

from collections.abc import Callable

import pytest
from playwright.sync_api import expect

from kitchen.members.signing_in import set_password
from kitchen.planning.loads import hold_load
from kitchen.season.queries import years_of
from tests.factories.shelf import add_lots, count_seals, make_shelf
from tests.journeys.visitor import PASSWORD, Visitor

pytestmark = [pytest.mark.browser, pytest.mark.django_db(transaction=True)]


@pytest.mark.parametrize("width", [390, 1280])
def test_the_season_is_read(visit: Callable[[int], Visitor], width: int) -> None:
    run = make_shelf(sealed=7)
    count_seals(run, sealed=5, unsealed=1, correct=True)
    add_lots(run, 3)
    hold_load(load=run.fresh(), deviations=["Vented 8 of 10 minutes (rule S4)."], actor=run.site.lead)
    set_password(user=run.site.lead, password=PASSWORD, actor=None)
    visitor = visit(width)
    visitor.sign_in(run.site.lead.email)
    visitor.press_by_keyboard("The season")
    (year,) = years_of(run.site.kitchen)
    expect(visitor.page.get_by_role("heading", name=f"Season {year}")).to_be_visible()
    expect(visitor.page.get_by_role("img", name="Jars by food")).to_be_visible()
    visitor.look("season")
