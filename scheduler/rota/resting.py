"""When people could rest in a rota that exists: in the gaps that their work leaves them anyway.

Rests chosen before there is a day are in its way; gaps in the work of a day that is nearly right are not.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace

from scheduler.interval import Span, covered, subtract
from scheduler.problem import Day, Person
from scheduler.rota.of_plan import hours_of, limits_of
from scheduler.rota.rested import rested
from scheduler.rota.strain import Work, faults


def resting_around(day: Day, work: Sequence[Sequence[Work]], longest_watch_minutes: int) -> Day:
    """The day with rests taken out of everybody's hours where the person's ``work`` leaves gaps for them.

    ``work`` is by person, in the order of the day's people. Whose work leaves no such gaps, or whose limits are of
    another kind, rests as usual.
    """
    usual = rested(day, longest_watch_minutes)
    people = (
        _around(day, person, mine, longest_watch_minutes if person.may_watch else 0) or other
        for person, other, mine in zip(day.people, usual.people, work, strict=True)
    )
    return replace(usual, people=tuple(people))


def _around(day: Day, person: Person, work: Sequence[Work], longest_minutes: int) -> Person | None:
    """The person in hours around their work, or None when whoever works all of them would be asked too much."""
    policy = day.policy
    every = max(policy.break_every_minutes, longest_minutes)
    meal_after = max(policy.meal_after_minutes, longest_minutes)
    hours: list[Span] = []
    for whole in hours_of(day, person):
        mine = [piece for piece in work if whole.start <= piece.start < whole.end]
        span = _shift(whole, mine, policy.longest_shift_minutes)
        gaps = subtract((span,), (Span(piece.start, piece.end) for piece in mine))
        meals = _rests(span, gaps, policy.meal_minutes, meal_after, ())
        rests = _rests(span, gaps, policy.break_minutes, every, meals)
        hours += subtract((span,), [*meals, *rests])
    limits = replace(limits_of(day), break_every_minutes=every, meal_after_minutes=meal_after)
    all_of_them = [Work(span.start, span.end, "") for span in hours]
    if faults(all_of_them, limits, person.most_minutes):
        return None
    if not all(covered(Span(piece.start, piece.end), hours) for piece in work):
        return None
    return replace(person, hours=tuple(hours), comes_with=None)


def _shift(span: Span, work: Sequence[Work], longest_minutes: int) -> Span:
    """As much of the span as a shift may be long, with all the work in it where that can be."""
    if span.minutes <= longest_minutes:
        return span
    first = min((piece.start for piece in work), default=span.start)
    start = max(span.start, min(first, span.end - longest_minutes))
    return Span(start, start + longest_minutes)


def _rests(span: Span, gaps: Sequence[Span], minutes: int, every: int, others: Sequence[Span]) -> list[Span]:
    """Rests in gaps, each as late as may be, so that there are few; the longer ones of ``others`` count as well."""
    found: list[Span] = []
    since = span.start
    while span.end - since > every:
        taken = [one for one in others if one.minutes >= minutes and since <= one.start <= since + every]
        starts = [
            min(gap.end - minutes, since + every)
            for gap in gaps
            if gap.minutes >= minutes and since <= gap.end - minutes and gap.start <= since + every
        ]
        if taken:
            since = max(one.end for one in taken)
        elif starts:
            found.append(Span(max(starts), max(starts) + minutes))
            since = found[-1].end
        else:
            break  # Whoever asks sees that this is too much.
    return found
