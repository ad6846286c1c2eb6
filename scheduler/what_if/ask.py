"""Asking what would place the batches that a plan leaves out or brings home late."""

from __future__ import annotations

from collections.abc import Callable

from scheduler.plan import Plan
from scheduler.problem import Day
from scheduler.what_if.answer import EVERYTHING_TRIED, Answer, Remedy, WhatIf
from scheduler.what_if.change import edits_of, words_of
from scheduler.what_if.ladder import Changes, ladder
from scheduler.what_if.shared import batch_of
from scheduler.what_if.trials import Held, Trials, Usual

MOST_REMEDIES = 3
"""So many choices a lead can weigh; what is larger than three that help is not looked for."""


def what_if(
    day: Day,
    planned: Plan,
    *,
    usual: Usual,
    seconds: float,
    clock: Callable[[], float],
    on_progress: Callable[[int, int], None] | None = None,
    should_stop: Callable[[], bool] | None = None,
) -> WhatIf:
    """The smallest changes that would place each batch that ``planned`` leaves out or brings home late.

    ``usual`` is how the day is planned again once a change is made: with that seed and effort every remedy places its
    batch, unless that plan runs into its own time limit. ``seconds``, read from ``clock``, is the limit; short of it,
    the same day and plan get the same answers.
    ``on_progress`` hears how many batches of how many are answered, ``should_stop`` is asked between plans.
    """
    search = _Search(day, planned, usual=usual, limit=clock() + seconds, clock=clock, should_stop=should_stop)
    hurt = sorted(
        (name for name, standing in search.trials.now.items() if not standing.is_well),
        key=lambda name: (not search.trials.now[name].left, [one.id for one in day.batches].index(name)),
    )
    answers: list[Answer] = []
    for batch_id in hurt:
        if on_progress is not None:
            on_progress(len(answers), len(hurt))
        answers.append(search.answer(batch_id))
    return WhatIf(
        day_digest=planned.day_digest,
        answers=tuple(answers),
        plans=search.trials.plans,
        stopped_because=search.stopped or EVERYTHING_TRIED,
    )


class _Search:
    """The trials of one day, until the time is up."""

    def __init__(
        self,
        day: Day,
        planned: Plan,
        *,
        usual: Usual,
        limit: float,
        clock: Callable[[], float],
        should_stop: Callable[[], bool] | None,
    ) -> None:
        self.trials = Trials(day, planned, usual=usual, must_stop=self._must_stop)
        self.stopped = ""
        self._day = day
        self._limit = limit
        self._clock = clock
        self._should_stop = should_stop

    def answer(self, batch_id: str) -> Answer:
        """Climb the ladder of one batch until enough is found."""
        now = self.trials.now[batch_id]
        remedies: list[Remedy] = []
        in_vain: list[str] = []
        for rung in ladder(self._day, batch_of(self._day, batch_id), late=not now.left):
            if len(remedies) == MOST_REMEDIES or self._must_stop():
                break
            choices = tuple(one for one in rung.choices if not any(_within(each, one) for each in remedies))
            if not choices:
                continue
            found = self._first(choices, batch_id)
            if found is not None:
                remedies.append(found)
            elif rung.words and not self.stopped:
                in_vain.append(rung.words)
        return Answer(
            batch_id=batch_id,
            left=now.left,
            late=now.late,
            remedies=tuple(remedies),
            in_vain=tuple(in_vain),
            complete=not self.stopped,
        )

    def _first(self, choices: tuple[Changes, ...], batch_id: str) -> Remedy | None:
        for changes in choices:
            if self._must_stop():
                return None
            held = self.trials.held(changes, batch_id)
            if held is not None:
                return self._remedy(changes, held)
        return None

    def _remedy(self, changes: Changes, held: Held) -> Remedy:
        return Remedy(
            changes=changes,
            words=words_of(self._day, changes),
            edits=edits_of(self._day, changes),
            certain=held.certain,
            firm=held.firm,
            out=held.out,
            late=held.late,
        )

    def _must_stop(self) -> bool:
        if not self.stopped:
            if self._should_stop is not None and self._should_stop():
                self.stopped = "asked to stop"
            elif self._clock() >= self._limit:
                self.stopped = "time limit"
        return bool(self.stopped)


def _within(remedy: Remedy, changes: Changes) -> bool:
    """True when the changes do all that the remedy does, and more: who has the smaller needs no larger."""
    return {one.kind for one in remedy.changes} < {one.kind for one in changes}
