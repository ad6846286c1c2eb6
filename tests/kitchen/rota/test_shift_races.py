"""Two people take the last open shift at once, and two accept one offer: one gets it, the other a clear answer."""

from __future__ import annotations

from collections import Counter
from collections.abc import Callable, Sequence
from concurrent.futures import ThreadPoolExecutor
from threading import Barrier

import pytest
from django.db import connection
from django.utils import timezone

from kitchen.errors import BadMembership, BadTime, NotAllowed, ShiftTaken
from kitchen.members.actions import end_membership
from kitchen.members.models import Membership, User
from kitchen.reminders.models import Reminder
from kitchen.rota.actions import give_back, take
from kitchen.rota.models import OfferState, Shift, Station, SwapOffer
from kitchen.rota.swaps import accept_offer, offer_swap
from tests.factories.canner_runs import Run, make_bean_run
from tests.factories.shifts import make_shift
from tests.factories.sites import make_site

pytestmark = pytest.mark.django_db(transaction=True)

RACES = 500


def race(
    runners: list[Callable[[int], str]], races: int, between: Callable[[], None]
) -> list[tuple[str, ...]]:
    """Each runner in a thread with a connection of its own; all start every race at once. What each heard, by race.

    ``between`` clears away the race before, while everybody waits.
    """
    start = Barrier(len(runners), action=between)

    def run(runner: Callable[[int], str]) -> list[str]:
        heard = []
        try:
            for number in range(races):
                start.wait(timeout=60)
                heard.append(runner(number))
        finally:
            connection.close()
        return heard

    with ThreadPoolExecutor(len(runners)) as pool:
        return list(zip(*pool.map(run, runners), strict=True))


@pytest.fixture
def run() -> Run:
    return make_bean_run(make_site())


def taking(run: Run, shifts: list[Shift], me: User) -> Callable[[int], str]:
    """Takes the shift of each race; what is refused is heard in words."""

    def attempt(number: int) -> str:
        try:
            take(shift=shifts[number], actor=me, at=run.at(-100))
        except (ShiftTaken, BadTime) as refusal:
            return refusal.message
        return "mine"

    return attempt


def clear() -> None:
    """What was taken falls away, so that nobody's work adds up from race to race."""
    Shift.objects.filter(user__isnull=False).update(cancelled_at=timezone.now())


def test_the_last_open_shift_goes_to_one(run: Run) -> None:
    """Whoever is slower is told who was faster, and the lead hears of each shift once."""
    shifts = [make_shift(run, None) for _ in range(RACES)]
    rivals = (run.site.member, run.site.other)
    heard = race([taking(run, shifts, me) for me in rivals], RACES, clear)
    assert len(heard) == RACES
    wins: Counter[User] = Counter()
    for shift, answers in zip(shifts, heard, strict=True):
        shift.refresh_from_db()
        assert answers.count("mine") == 1, answers
        winner = rivals[answers.index("mine")]
        assert (shift.user, shift.sequence) == (winner, 1)
        assert f"{winner} took this shift a moment ago." in answers
        wins[winner] += 1
    assert min(wins[one] for one in rivals) > 0, "a race that one always wins is none"
    assert Reminder.objects.filter(recipient=run.site.lead).count() == RACES


def test_one_person_is_not_put_down_twice_at_once(run: Run) -> None:
    """Two windows of one person, two shifts at the same time: the second is checked after the first is taken."""
    races = 60
    at_prep = [make_shift(run, None, Station.PREP) for _ in range(races)]
    at_fill = [make_shift(run, None, Station.FILL) for _ in range(races)]
    me = run.site.member
    heard = race([taking(run, at_prep, me), taking(run, at_fill, me)], races, clear)
    for answers in heard:
        assert answers.count("mine") == 1, answers
        assert any("at another station then" in answer for answer in answers), answers


def test_an_offer_is_accepted_by_one(run: Run) -> None:
    site, races = run.site, 60
    shifts = [make_shift(run, site.operator) for _ in range(races)]
    offers = [offer_swap(shift=shift, actor=site.operator, at=run.at(-100)) for shift in shifts]
    rivals = (site.member, site.other)
    heard = race([accepting(run, offers, me) for me in rivals], races, lambda: clear_of(rivals))
    for shift, answers in zip(shifts, heard, strict=True):
        shift.refresh_from_db()
        assert answers.count("mine") == 1, answers
        winner = rivals[answers.index("mine")]
        assert shift.user == winner
        assert f"{winner} accepted this offer a moment ago." in answers
    assert SwapOffer.objects.filter(state=OfferState.ACCEPTED).count() == races


def test_a_shift_is_not_opened_and_swapped_away_at_once(run: Run) -> None:
    """Whichever comes second is refused, or acts on what the first left."""
    site, races = run.site, 60
    shifts = [make_shift(run, site.operator) for _ in range(races)]
    offers = [offer_swap(shift=shift, actor=site.operator, at=run.at(-100)) for shift in shifts]

    def back(number: int) -> str:
        give_back(shift=shifts[number], actor=site.lead, at=run.at(-99))
        return "opened"

    heard = race([accepting(run, offers, site.member), back], races, lambda: clear_of([site.member]))
    for shift, answers in zip(shifts, heard, strict=True):
        shift.refresh_from_db()
        assert shift.user is None, answers
        assert shift.sequence == (2 if answers[0] == "mine" else 1), answers


def test_who_leaves_the_kitchen_keeps_no_shift_taken_meanwhile(run: Run) -> None:
    """Taken before, it is opened again; taken after, it is refused."""
    site, races = run.site, 60
    shifts = [make_shift(run, None) for _ in range(races)]
    membership = Membership.objects.get(kitchen=site.kitchen, user=site.member)

    def leaves(number: int) -> str:
        del number
        end_membership(membership=Membership.objects.get(pk=membership.pk), actor=site.lead, at=run.at(-99))
        return "left"

    def takes(number: int) -> str:
        try:
            take(shift=shifts[number], actor=site.member, at=run.at(-99))
        except (NotAllowed, BadMembership) as refusal:
            return refusal.message
        return "mine"

    def back_again() -> None:
        Membership.objects.filter(pk=membership.pk).update(left_at=None)

    heard = race([takes, leaves], races, back_again)
    for shift, answers in zip(shifts, heard, strict=True):
        shift.refresh_from_db()
        assert shift.user is None, answers
        assert shift.sequence == (2 if answers[0] == "mine" else 0), answers


def clear_of(people: Sequence[User]) -> None:
    """Like ``clear``, for the shifts of these people alone."""
    Shift.objects.filter(user__in=people).update(cancelled_at=timezone.now())


def accepting(run: Run, offers: list[SwapOffer], me: User) -> Callable[[int], str]:
    """Accepts the offer of each race; what is refused is heard in words."""

    def attempt(number: int) -> str:
        try:
            accept_offer(offer=offers[number], actor=me, at=run.at(-99))
        except ShiftTaken as refusal:
            return refusal.message
        return "mine"

    return attempt
