"""What would place the batches that a plan leaves out, as plain text under the plan."""

from __future__ import annotations

from collections.abc import Iterator
from textwrap import fill

from scheduler.foods import find_food
from scheduler.problem import Day
from scheduler.wall_clock import wall_clock
from scheduler.what_if.answer import Answer, Remedy, WhatIf
from scheduler.what_if.change import changed
from scheduler.what_if.shared import batch_of

_WIDTH = 100


def what_if_text(day: Day, found: WhatIf) -> str:
    """A heading, then each batch with its remedies and the edits of the day file for them."""
    lines = ["WHAT WOULD PLACE IT"]
    for answer in found.answers:
        lines += _answer(day, answer)
    if not found.answers:
        lines.append("Nothing is left out and nothing is late.")
    else:
        lines.append(f"found by planning {found.plans} changed days; {found.stopped_because}")
    return "\n".join(lines) + "\n"


def batch_words(day: Day, answer: Answer, *, named: bool = True) -> str:
    """Which jars, whose, and what the plan does with them; with the batch's id when ``named``."""
    batch = batch_of(day, answer.batch_id)
    food = find_food(batch.food_id).name
    whose = f"{batch.member}, batch {batch.id}" if named else batch.member
    what = f"{batch.jars} {batch.jar.words} jars of {food} ({whose})"
    if not answer.left:
        return f"{what}: {answer.late} minutes late."
    return f"{what}: {'none' if answer.left == batch.jars else batch.jars - answer.left} placed."


def proof_words(day: Day, remedy: Remedy) -> str:
    """When the jars would be out, and how sure that is."""
    after = changed(day, remedy.changes)
    out = wall_clock(after.date, after.time_zone).words(remedy.out)
    late = f", {remedy.late} minutes after the pick-up" if remedy.late else ""
    sure = "planned again, the day places everything"
    if remedy.certain:
        sure = "every plan then places them"
    elif not remedy.firm:
        sure = (
            "planned again, the day places them; others are still left out or late, and a plan with another seed or "
            "more time may choose otherwise"
        )
    return f"Out by {out}{late}; {sure}."


def in_vain_words(answer: Answer) -> str:
    """What was tried and does not do it; empty when nothing was."""
    if not answer.in_vain:
        return ""
    return f"Tried, without placing it every time: {', '.join(answer.in_vain)}."


def nothing_words(answer: Answer) -> str:
    """Said of a batch without a remedy."""
    if not answer.complete:
        return "Nothing was found before the search ended."
    return "Nothing on the list of changes places it."


def _answer(day: Day, answer: Answer) -> Iterator[str]:
    yield fill(batch_words(day, answer), _WIDTH, subsequent_indent="  ")
    for number, remedy in enumerate(answer.remedies, start=1):
        words = f"{number}. {remedy.words} {proof_words(day, remedy)}"
        yield fill(words, _WIDTH, initial_indent="  ", subsequent_indent="     ")
        yield from (f"     {edit.words}" for edit in remedy.edits)
    if not answer.remedies:
        yield f"  {nothing_words(answer)}"
    if tried := in_vain_words(answer):
        yield fill(tried, _WIDTH, initial_indent="  ", subsequent_indent="  ")
