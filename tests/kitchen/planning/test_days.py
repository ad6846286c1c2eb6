"""Opening and closing harvest days."""

from __future__ import annotations

from datetime import timedelta

import pytest
from django.db import IntegrityError, transaction

from kitchen.errors import BadHarvestDay, NotAllowed
from kitchen.members.models import User
from kitchen.planning.actions import change_hours, close_harvest_day, open_harvest_day
from kitchen.planning.models import DayState, HarvestDay, Load, LoadState
from kitchen.planning.queries import next_day
from tests.factories.sites import DAY, Site, declare, make_open_day, make_site, publish

pytestmark = pytest.mark.django_db


@pytest.fixture
def site() -> Site:
    return make_site()


def announce(site: Site, *, opens: int = 7, closes: int = 20, actor: User | None = None) -> HarvestDay:
    """The site's day, apart from what a case changes."""
    return open_harvest_day(
        kitchen=site.kitchen,
        day=DAY,
        opens_at=site.at(opens),
        closes_at=site.at(closes),
        actor=actor or site.lead,
    )


def test_a_day_is_opened_once(site: Site) -> None:
    day = announce(site)
    assert (day.state, day.version) == (DayState.DRAFT, 0)
    assert next_day(site.kitchen, DAY) == day
    assert next_day(site.kitchen, DAY + timedelta(days=1)) is None
    with pytest.raises(BadHarvestDay, match="already"):
        announce(site)


def test_closing_before_opening_is_refused_by_rule_and_database(site: Site) -> None:
    with pytest.raises(BadHarvestDay, match="cannot close at 06:00 when it opens at 07:00"):
        announce(site, closes=6)
    day = announce(site)
    with pytest.raises(IntegrityError), transaction.atomic():
        HarvestDay.objects.filter(pk=day.pk).update(closes_at=day.opens_at)


def test_the_opening_is_on_the_day_by_the_kitchen_s_own_calendar(site: Site) -> None:
    with pytest.raises(BadHarvestDay, match="not on"):
        open_harvest_day(
            kitchen=site.kitchen,
            day=DAY + timedelta(days=1),
            opens_at=site.at(7),
            closes_at=site.at(20),
            actor=site.lead,
        )


def test_only_a_lead_opens_days(site: Site) -> None:
    with pytest.raises(NotAllowed):
        announce(site, actor=site.operator)


def test_once_a_load_has_begun_only_the_closing_changes(site: Site) -> None:
    day = make_open_day(site)
    declare(site, day)
    publish(site, day)
    change_hours(harvest_day=day, opens_at=site.at(6), closes_at=site.at(20), actor=site.lead)
    Load.objects.update(state=LoadState.RUNNING)
    with pytest.raises(BadHarvestDay, match="The day has begun"):
        change_hours(harvest_day=day, opens_at=site.at(7), closes_at=site.at(20), actor=site.lead)
    change_hours(harvest_day=day, opens_at=site.at(6), closes_at=site.at(21), actor=site.lead)
    assert day.closes_at == site.at(21)


def test_closing_cancels_what_never_began(site: Site) -> None:
    day = make_open_day(site)
    declare(site, day)
    day = publish(site, day)
    close_harvest_day(harvest_day=day, actor=site.lead)
    assert (day.state, Load.objects.get().state) == (DayState.CLOSED, LoadState.CANCELLED)


def test_a_day_with_a_load_in_a_canner_is_not_closed(site: Site) -> None:
    day = make_open_day(site)
    declare(site, day)
    day = publish(site, day)
    Load.objects.update(state=LoadState.RUNNING)
    with pytest.raises(BadHarvestDay, match="still in a canner"):
        close_harvest_day(harvest_day=day, actor=site.lead)
