"""Two presses at once on one offer, and two members at once on one kitchen."""

from __future__ import annotations

from collections.abc import Callable
from concurrent.futures import ThreadPoolExecutor
from datetime import timedelta
from threading import Barrier

import pytest
from django.db import connection

from kitchen.errors import AlreadyDecided, NoTimeAgain
from kitchen.planning.models import HarvestDay, Load, LoadState
from kitchen.reprocess.actions import book_again
from kitchen.reprocess.bridge import ways_for
from kitchen.reprocess.models import ReprocessBooking
from kitchen.seals.models import ReprocessOffer
from tests.factories.canner_runs import BEANS_OUT, Run, make_beans_out
from tests.factories.shelf import count_seals
from tests.factories.sites import declare, make_site

pytestmark = pytest.mark.django_db(transaction=True)


def at_once(*steps: Callable[[], ReprocessBooking]) -> list[str]:
    """Every step in a thread of its own, begun together; what came of each."""
    start = Barrier(len(steps))

    def press(step: Callable[[], ReprocessBooking]) -> str:
        start.wait(timeout=30)
        try:
            step()
        except (AlreadyDecided, NoTimeAgain) as refused:
            return type(refused).__name__
        finally:
            connection.close()
        return "booked"

    with ThreadPoolExecutor(len(steps)) as pool:
        return sorted(pool.map(press, steps))


def accepting(run: Run, offer: ReprocessOffer) -> Callable[[], ReprocessBooking]:
    now = run.at(BEANS_OUT) + timedelta(hours=20)
    way = ways_for(offer, now).first
    assert way is not None
    key, member = way.key, offer.portion.batch.member

    def press() -> ReprocessBooking:
        return book_again(offer=offer, key=key, actor=member, watcher=run.site.operator, now=now)

    return press


def unsealed(run: Run) -> ReprocessOffer:
    run.day.state = "closed"
    run.day.save()
    count_seals(run, sealed=5, unsealed=2)
    return ReprocessOffer.objects.get(portion=run.portion)


def test_an_offer_is_taken_up_once_however_often_it_is_pressed() -> None:
    run = make_beans_out(make_site())
    press = accepting(run, unsealed(run))
    assert at_once(press, press) == ["AlreadyDecided", "booked"]
    assert ReprocessBooking.objects.count() == 1
    assert Load.objects.filter(state=LoadState.PLANNED).count() == 1


def test_two_members_at_once_open_one_day() -> None:
    run = make_beans_out(make_site())
    batch = declare(run.site, run.day, member=run.site.other)
    portion = run.load.portions.create(
        batch=batch, jars=7, process_key=run.portion.process_key, headspace_in=1
    )
    first = unsealed(run)
    second = ReprocessOffer.objects.create(portion=portion, jars=1, deadline=first.deadline)
    # Both were shown the same time of their own; whoever comes second is told, and shown the day that is opened.
    assert at_once(accepting(run, first), accepting(run, second)) == ["NoTimeAgain", "booked"]
    assert HarvestDay.objects.filter(state="published").count() == 1
