"""What made-up people ask of a rota, and what their kitchen asks of nobody: drawn onto a day that is made already.

Drawn after all the rest, so that the same seed has the same batches, canners and hours with them as without.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace
from random import Random

from scheduler.problem import Day, Person, Policy, StationKind


def with_wishes(day: Day, random: Random) -> Day:
    """The day with wishes of its people, odd ones among them, and half the time with unusual limits on work."""
    people = tuple(_asking(person, day.people, random) for person in day.people)
    policy = _with_limits(day.policy, random) if random.random() < 0.5 else day.policy
    return replace(day, people=people, policy=policy)


def _asking(person: Person, people: Sequence[Person], random: Random) -> Person:
    """Some cannot work at a station, also trained people at a canner; some come with another who may not be there."""
    cannot = frozenset(_some(random, 0.25))
    others = [other.id for other in people if other.id != person.id]
    return replace(
        person,
        cannot=cannot,
        likes=frozenset(_some(random, 0.4)) - cannot,
        most_minutes=random.choice((30, 90, 150, 240, 360, 480)) if random.random() < 0.3 else None,
        learning=not person.trained and not person.under_16 and random.random() < 0.3,
        comes_with=random.choice(others) if others and random.random() < 0.12 else None,
        carried_minutes=random.choice((15, 120, 600)) if random.random() < 0.4 else 0,
    )


def _some(random: Random, share: float) -> list[StationKind]:
    return random.sample(tuple(StationKind), random.randint(1, 2)) if random.random() < share else []


def _with_limits(policy: Policy, random: Random) -> Policy:
    return replace(
        policy,
        break_minutes=random.choice((5, 15, 15, 45)),
        break_every_minutes=random.choice((60, 120, 180, 180, 360)),
        meal_minutes=random.choice((10, 30, 30, 90)),
        meal_after_minutes=random.choice((120, 300, 300, 480)),
        longest_shift_minutes=random.choice((240, 480, 720, 960)),
        rest_minutes=random.choice((480, 600, 720)),
        walking_minutes=random.choice((0, 0, 3, 15)),
    )
