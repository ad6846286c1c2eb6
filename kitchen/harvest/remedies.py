"""A remedy as a page shows it, and as the steps that make it."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import datetime


@dataclass(frozen=True, slots=True, kw_only=True)
class NewHours:
    """The kitchen closes at another time; who is there at closing now stays on until then."""

    closes_at: datetime


@dataclass(frozen=True, slots=True, kw_only=True)
class NewBatch:
    """A batch is packed otherwise, or comes and goes at other times; None leaves it as it is."""

    batch_id: int
    pack: str | None = None
    jar: str | None = None
    jars: int | None = None
    arrives_at: datetime | None = None
    picks_up_at: datetime | None = None


Step = NewHours | NewBatch


@dataclass(frozen=True, slots=True, kw_only=True)
class Choice:
    """One remedy in words. ``name`` is how a form names it; ``can_be_made`` says that a press can make it.

    ``asks_for`` says where a lead makes it otherwise: "trained", "helper", "equipment", "day" or "again".
    """

    name: str
    words: str
    proof: str
    can_be_made: bool
    asks_for: str


@dataclass(frozen=True, slots=True, kw_only=True)
class BatchAnswer:
    """What was found for one batch: whose, the choices, and what was tried in vain."""

    what: str
    choices: tuple[Choice, ...]
    nothing: str
    in_vain: str


@dataclass(frozen=True, slots=True, kw_only=True)
class Answers:
    """All that was found for a plan. ``ended_early`` when the search stopped before everything was tried."""

    batches: tuple[BatchAnswer, ...]
    ended_early: bool
