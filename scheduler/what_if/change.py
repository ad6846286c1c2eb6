"""Every change there is, and several of them at once."""

from __future__ import annotations

from collections.abc import Sequence
from typing import Annotated, TypeAlias

from pydantic import Field

from scheduler.problem import Day
from scheduler.what_if.edits import Edit
from scheduler.what_if.of_batch import AnotherDay, ArriveEarlier, NextDay, OtherJar, OtherPack, PickUpLater
from scheduler.what_if.of_kitchen import CloseLater, OneMoreKettle, OneMorePerson, OneMoreTable

Change: TypeAlias = Annotated[
    AnotherDay
    | ArriveEarlier
    | CloseLater
    | NextDay
    | OneMoreKettle
    | OneMorePerson
    | OneMoreTable
    | OtherJar
    | OtherPack
    | PickUpLater,
    Field(discriminator="kind"),
]


def changed(day: Day, changes: Sequence[Change]) -> Day:
    """The day with all the changes made, one after the other."""
    for change in changes:
        day = change.apply(day)
    return day


def words_of(day: Day, changes: Sequence[Change]) -> str:
    """The changes in words, for a lead."""
    if not changes:
        return "Change nothing and plan again: other plans of the same day place it."
    told: list[str] = []
    for change in changes:
        told.append(change.words(day))
        day = change.apply(day)
    return " ".join(told)


def edits_of(day: Day, changes: Sequence[Change]) -> tuple[Edit, ...]:
    """The changes as edits of the day file, in the order in which they are to be made."""
    edits: list[Edit] = []
    for change in changes:
        edits += change.edits(day)
        day = change.apply(day)
    return tuple(edits)
