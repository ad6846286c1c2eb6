"""What was found: for each batch that is left out or late, the changes that would place it."""

from __future__ import annotations

from dataclasses import dataclass

from scheduler.what_if.change import Change
from scheduler.what_if.edits import Edit

EVERYTHING_TRIED = "everything tried"
"""Why a search ended that nothing ended early."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Remedy:
    """What would place a batch, found by planning the changed day.

    ``certain``: every plan of the changed day does, for none is worse than the simple rules, which do. Otherwise each
    of several plans did, among them the one that the lead gets who makes the changes and plans again. If ``firm`` they
    left nothing else out or late; if not, a plan with another seed may choose whom to leave out otherwise. ``out`` is
    the latest minute at which the last jar was out in them, on the changed day's clock; ``late`` the minutes after its
    pick-up.
    """

    changes: tuple[Change, ...]
    words: str
    edits: tuple[Edit, ...]
    certain: bool
    firm: bool
    out: int
    late: int


@dataclass(frozen=True, slots=True, kw_only=True)
class Answer:
    """What was found for one batch with jars ``left`` out or ``late`` by so many minutes.

    ``in_vain`` names what was tried and does not do it. ``complete`` is False when time ran out.
    """

    batch_id: str
    left: int
    late: int
    remedies: tuple[Remedy, ...]
    in_vain: tuple[str, ...]
    complete: bool


@dataclass(frozen=True, slots=True, kw_only=True)
class WhatIf:
    """An answer for each batch left out, then for each that is late; ``day_digest`` ties them to the question."""

    day_digest: str
    answers: tuple[Answer, ...]
    plans: int
    stopped_because: str
