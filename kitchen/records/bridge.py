"""What a record takes from the planner: the caution, the printed process and lengths in words."""

from __future__ import annotations

from scheduler.caution import CAUTION
from scheduler.chart_rows import PHASE_WORDS
from scheduler.cycle import PhaseKind
from scheduler.errors import NoPublishedProcess
from scheduler.measure import in_words
from scheduler.process import process_named

__all__ = ["CAUTION", "inches", "phase_in_words", "printed_process"]


def inches(length_in: float) -> str:
    """A length as a ruler shows it: ``1/2 in``."""
    return f"{in_words(length_in)} in"


def phase_in_words(kind: str) -> str:
    """A phase as a person says it."""
    return PHASE_WORDS[PhaseKind(kind)]


def printed_process(key: str) -> str:
    """The printed row that was followed, with its publication; its key alone when the tables have it no more."""
    try:
        process = process_named(key)
    except NoPublishedProcess:
        return key
    publication, _, _where_seen = process.source.partition(";")
    return f"{process.words} ({publication})"
