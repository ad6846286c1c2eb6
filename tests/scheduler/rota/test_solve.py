"""Drawing up a rota: nothing too much for anybody, nothing left empty that could be filled, and a fair share."""

from __future__ import annotations

import itertools
from random import Random

from scheduler.interval import Span
from scheduler.rota.bearing import is_bearable, work_of
from scheduler.rota.bound import measure
from scheduler.rota.question import Helper, Limits, Question, Seat, Taken
from scheduler.rota.solve import draw_up
from scheduler.rota.strain import busy_minutes

TINY = range(60)


def tiny(seed: int) -> Question:
    """Three people, and up to six seats that fit them more or less."""
    random = Random(f"rota {seed}")  # noqa: S311 - a repeatable question, not a secret.
    seats: list[Seat] = []
    for number in range(random.randint(2, 6)):
        start = random.randrange(0, 200, 10)
        follows = number - 1 if number and random.random() < 0.3 else None
        start = seats[number - 1].end if follows is not None else start
        shared = seats[number - 1].shared if follows is not None else random.random() < 0.3
        seats.append(
            Seat(
                id=f"seat {number}",
                place="canner" if shared else random.choice(("prep", "fill")),
                start=start,
                end=start + random.randrange(10, 90, 10),
                able=frozenset(random.sample(range(3), random.randint(1, 3))),
                follows=follows,
                overlap=10 if shared and follows is not None else 0,
                shared=shared,
            )
        )
    helpers = tuple(
        Helper(
            id=f"helper {number}",
            hours=(Span(random.randrange(0, 60, 10), random.randrange(150, 400, 10)),),
            most_minutes=random.choice((None, 60, 120)),
            carried_minutes=random.choice((0, 0, 40)),
        )
        for number in range(3)
    )
    limits = Limits(
        break_minutes=15,
        break_every_minutes=random.choice((60, 120)),
        longest_shift_minutes=200,
        rest_minutes=300,
        walking_minutes=random.choice((0, 5)),
    )
    return Question(helpers=helpers, seats=tuple(seats), limits=limits, shared_limit=2)


def every_rota(question: Question) -> list[Taken]:
    """All that nobody is asked too much in."""
    choices = [[None, *sorted(seat.able)] for seat in question.seats]
    return [
        taken
        for taken in itertools.product(*choices)
        if all(is_bearable(question, taken, person) for person in range(len(question.helpers)))
    ]


def nobody(question: Question) -> Taken:
    return tuple(None for _ in question.seats)


def test_hardly_a_minute_is_left_empty_that_any_rota_fills_and_no_bound_lies_above_any() -> None:
    ours_empty = least_empty = 0
    for seed in TINY:
        question = tiny(seed)
        drawn = draw_up(question, nobody(question), nobody(question), tries=10_000, seed=seed)
        assert all(is_bearable(question, drawn, person) for person in range(3))
        measured = [measure(question, taken) for taken in every_rota(question)]
        ours, least = measure(question, drawn), min(one.unfilled_minutes for one in measured)
        assert ours.unfilled_bound <= least <= ours.unfilled_minutes
        full = [one for one in measured if one.unfilled_minutes == ours.unfilled_bound]
        assert all(one.spread_bound <= one.spread_minutes + 1e-9 for one in full)
        # Where there are watches they go before other work, of which a little may stay undone for them.
        if not any(seat.shared for seat in question.seats):
            ours_empty, least_empty = ours_empty + ours.unfilled_minutes, least_empty + least
    assert least_empty > 0
    assert ours_empty <= 1.06 * least_empty


def test_work_is_spread_evenly_and_what_was_carried_counts() -> None:
    seats = tuple(
        Seat(
            id=str(number), place="prep", start=number * 100, end=number * 100 + 60, able=frozenset({0, 1, 2})
        )
        for number in range(9)
    )
    helpers = (Helper(id="a"), Helper(id="b"), Helper(id="c", carried_minutes=120))
    question = Question(helpers=helpers, seats=seats)
    drawn = draw_up(question, (0,) * 9, (None,) * 9, tries=6000, seed=1)
    minutes = [busy_minutes(work_of(question, drawn, person)) for person in range(3)]
    assert sorted(minutes) == [120, 180, 240]
    assert minutes[2] == 120
    assert measure(question, drawn).gap < 0.1


def test_whom_the_lead_has_put_somewhere_stays_there() -> None:
    seats = tuple(
        Seat(id=str(number), place="prep", start=0, end=60, able=frozenset({0, 1, 2})) for number in range(2)
    )
    helpers = tuple(Helper(id=name) for name in "abc")
    question = Question(helpers=helpers, seats=seats, pinned=((1, 2),))
    drawn = draw_up(question, (2, 0), (None, None), tries=900, seed=1)
    assert drawn[1] == 2
    assert drawn[0] in (0, 1)


def test_people_are_put_where_they_like_to_be() -> None:
    seats = tuple(
        Seat(id=place, place=place, start=0, end=60, able=frozenset({0, 1})) for place in ("prep", "fill")
    )
    helpers = (Helper(id="a", likes=frozenset({"fill"})), Helper(id="b"))
    drawn = draw_up(Question(helpers=helpers, seats=seats), (0, 1), (None, None), tries=900, seed=1)
    assert drawn == (1, 0)


def test_a_watch_is_handed_over_with_time_together() -> None:
    seats = (
        Seat(id="1", place="canner", start=0, end=100, able=frozenset({0, 1}), shared=True),
        Seat(
            id="2",
            place="canner",
            start=100,
            end=200,
            able=frozenset({0, 1}),
            shared=True,
            follows=0,
            overlap=10,
        ),
    )
    helpers = (Helper(id="a", hours=(Span(0, 130),)), Helper(id="b", hours=(Span(90, 200),)))
    question = Question(helpers=helpers, seats=seats, shared_limit=2)
    drawn = draw_up(question, (None, None), (None, None), tries=900, seed=1)
    assert drawn == (0, 1)
    assert [piece.start for piece in work_of(question, drawn, 1)] == [90]
    late = (helpers[0], Helper(id="b", hours=(Span(91, 200),)))
    question = Question(helpers=late, seats=seats, shared_limit=2)
    assert None in draw_up(question, (0, 1), (None, None), tries=900, seed=1)


def test_the_same_question_and_seed_give_the_same_rota() -> None:
    question = tiny(7)
    first, again = (
        draw_up(question, nobody(question), nobody(question), tries=3000, seed=3) for _ in range(2)
    )
    assert first == again
