"""People's hours with rests taken out: what the search may count on, so that nobody is asked too much.

When each person rests is chosen before the day is made, in turn, so that rests lie apart. Whoever keeps to these hours
keeps every limit; the rota drawn up afterwards may place rests otherwise.
"""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import replace
from itertools import pairwise

from scheduler.interval import Span, subtract
from scheduler.problem import Day, Hands, Person, Station, StationKind
from scheduler.rota.of_plan import hours_of

_GOLDEN = 0.6180339887498949
"""The golden ratio's fraction: its multiples lie apart however many there are."""
# The first rest comes within this share of the longest time without one: all first rests lie within its other half.
_EARLIEST = 0.5


def rested(day: Day, longest_watch_minutes: int = 0) -> Day:
    """The day with rests taken out of everybody's hours, and stations no fuller than there are people for them.

    The order of people stays. Trained people may work as long as the longest watch without a rest: a watch is not left
    (rule S9), and one that is longer than the limit is one person's only work.
    """
    ranks = {True: 0, False: 0}
    people = []
    for person in day.people:
        share = ranks[person.may_watch] * _GOLDEN % 1.0
        ranks[person.may_watch] += 1
        longest = longest_watch_minutes if person.may_watch else 0
        window = _spread(ranks[person.may_watch] - 1)
        hours = tuple(
            span for part in _days(day, person, window) for span in _with_rests(day, part, longest, share)
        )
        people.append(replace(person, hours=hours, comes_with=None))
    return _placed(replace(day, people=tuple(people)))


def _spread(number: int) -> float:
    """Shares from 0 to 1 that lie apart, the ends first: 0, 1, a half, a quarter, three quarters and so on."""
    if number < 2:
        return float(number)
    share, part = 0.0, 0.5
    number -= 1
    while number:
        share += part * (number & 1)
        number >>= 1
        part /= 2
    return share


def able(day: Day) -> Day:
    """The day with people there only with those they come with, and stations no fuller than people can fill them."""
    if not any(person.comes_with or person.cannot for person in day.people):
        return day
    people = (replace(person, hours=hours_of(day, person), comes_with=None) for person in day.people)
    return _placed(replace(day, people=tuple(people)))


def _placed(day: Day) -> Day:
    if not any(person.cannot for person in day.people):
        return day
    return replace(day, stations=tuple(_stations(day)))


def _days(day: Day, person: Person, share: float) -> Iterator[Span]:
    """The hours of each day, cut down to the longest shift, the person's own limit and the rest between two days.

    Who is there for longer begins later, in turn, so that not all are gone at the end.
    """
    policy, ended = day.policy, None
    for part in _runs(hours_of(day, person), policy.rest_minutes):
        start = part[0].start if ended is None else max(part[0].start, ended + policy.rest_minutes)
        end = part[-1].end
        most = policy.longest_shift_minutes
        if person.most_minutes is not None:
            most = min(most, person.most_minutes)
        if end - start > most:
            start += int((end - start - most) * share)
            end = start + most
        for span in part:
            if max(span.start, start) < min(span.end, end):
                yield Span(max(span.start, start), min(span.end, end))
        ended = end


def _runs(hours: tuple[Span, ...], rest_minutes: int) -> list[list[Span]]:
    """Hours grouped into days: between two groups lies a night's rest, or midnight."""
    runs: list[list[Span]] = []
    for span in hours:
        if runs and span.start - runs[-1][-1].end < min(rest_minutes, _NIGHT_MINUTES):
            runs[-1].append(span)
        else:
            runs.append([span])
    return runs


_NIGHT_MINUTES = 6 * 60
"""Hours this far apart are those of two days, also where they lie closer than the rest between days."""


def _with_rests(day: Day, span: Span, longest: int, share: float) -> Iterator[Span]:
    policy = day.policy
    every, meal_after = max(policy.break_every_minutes, longest), max(policy.meal_after_minutes, longest)
    rests: list[Span] = []
    worked_from, eaten_at = span.start, span.start
    first = int(every * (_EARLIEST + (1 - _EARLIEST) * share))
    while span.end - worked_from > every or span.end - eaten_at > meal_after:
        due = worked_from + (every if rests else min(first, every))
        meal = len(rests) % 2 == 1 or due >= eaten_at + meal_after
        start = min(due, eaten_at + meal_after)
        end = start + (policy.meal_minutes if meal else policy.break_minutes)
        if start >= span.end:
            break
        rests.append(Span(start, max(end, start + policy.break_minutes)))
        worked_from = rests[-1].end
        eaten_at = worked_from if rests[-1].minutes >= policy.meal_minutes else eaten_at
    return iter(subtract((span,), rests))


def _stations(day: Day) -> Iterator[Station]:
    """Each station with no more hands than there are people here who may work there."""
    listed = {station.kind: station for station in day.stations}
    for kind in StationKind:
        if any(kind in person.cannot for person in day.people):
            yield Station(kind=kind, hands=tuple(_hands(day, kind, listed.get(kind))))
        elif kind in listed:
            yield listed[kind]


def _hands(day: Day, kind: StationKind, listed: Station | None) -> Iterator[Hands]:
    able = [person for person in day.people if kind not in person.cannot]
    edges = {edge for person in able for span in person.hours for edge in (span.start, span.end)}
    if listed is not None:
        edges |= {edge for hands in listed.hands for edge in (hands.span.start, hands.span.end)}
    for start, end in pairwise(sorted(edges)):
        moment = Span(start, end)
        count = sum(any(span.holds(moment) for span in person.hours) for person in able)
        if listed is not None:
            count = min(count, sum(hands.count for hands in listed.hands if hands.span.holds(moment)))
        if count:
            yield Hands(span=moment, count=count)
