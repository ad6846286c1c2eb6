"""Bounds that the constraint solver proves while the search runs: slower than those of ``bounds``, and closer."""

from __future__ import annotations

from collections.abc import Callable
from concurrent.futures import Future, ThreadPoolExecutor
from functools import cache, partial
from types import TracebackType
from typing import Self

from scheduler.problem import Day
from scheduler.search.bounds import Bound, bounds_of, impossible, ready_minutes
from scheduler.search.latest import least_out_of_last
from scheduler.search.options import Options
from scheduler.search.relaxed import Relaxed

Bounds = tuple[Bound, ...]


class Proof:
    """The bounds of one day, worked out beside the search in a thread of their own.

    ``seconds_left`` says how long it may go on. Used as a context manager, so that no thread is left behind.
    """

    def __init__(self, day: Day, options: Options, seconds_left: Callable[[], float]) -> None:
        self._day, self._options, self._seconds_left = day, options, seconds_left
        # Asked for after every look of the search; on a large day it takes seconds to work out.
        self._cheap = cache(partial(bounds_of, day, options))
        self._pool = ThreadPoolExecutor(1, thread_name_prefix="proof")
        self._ended = False
        self._must_leave = sum(day.batches[number].jars for number in impossible(day, options))
        self._found: Future[Bounds] = self._pool.submit(self._prove, None)

    def __enter__(self) -> Self:
        return self

    def __exit__(
        self, kind: type[BaseException] | None, _: BaseException | None, __: TracebackType | None
    ) -> None:
        self._ended = True
        self._pool.shutdown(cancel_futures=True)

    def now(self, left_out: int) -> Bounds:
        """What is proven so far about days that leave out no more than so many jars."""
        cheap = self._cheap(left_out)
        if not self._found.done():
            return cheap
        return _better(cheap, self._found.result(), left_out)

    def final(self, left_out: int) -> Bounds:
        """What is proven in the end; a day that leaves out more than it must is looked at anew."""
        found = self._found.result()
        if left_out > found[0].value and self._left() > 0:
            found = (found[0], *self._pool.submit(self._prove, left_out).result()[1:])
            return _better(self._cheap(left_out), found, found[0].value)
        return _better(self._cheap(left_out), found, left_out)

    def _left(self) -> float:
        return 0.0 if self._ended else self._seconds_left()

    def _prove(self, left_out: int | None) -> Bounds:
        """The levels one after the other. Without ``left_out``, for days that leave out no more than they must."""
        day, options = self._day, self._options
        ready = [ready_minutes(day, number) for number in range(len(day.batches))]
        relaxed = Relaxed(day, options, ready, impossible(day, options), self._left)
        nothing = Bound(0, "")
        if not relaxed.batches:
            return (Bound(self._must_leave, ""), *(nothing,) * 5)
        least_left = relaxed.least_left_out()
        left = least_left if left_out is None else left_out - self._must_leave
        out, name = self._last_out(relaxed, left)
        return (
            Bound(self._must_leave + least_left, "canners, people and kettles together"),
            nothing,
            Bound(out, name),
            Bound(relaxed.least_canner_minutes(left), "whole loads of every kind"),
            Bound(relaxed.least_loads(left), "whole loads of every kind"),
            nothing,
        )

    def _last_out(self, relaxed: Relaxed, left: int) -> tuple[int, str]:
        """When the last jar is out at the earliest, and what proves it."""
        if left:
            return relaxed.least_last_out(left, 0)
        known, name = least_out_of_last(relaxed, self._cheap(self._must_leave)[2].value)
        out, better = relaxed.least_last_out(left, known)
        return out, better or name


def _better(cheap: Bounds, proven: Bounds, left_out: int) -> Bounds:
    """The higher bound of each level; what is proven below the first level holds for no more jars left out."""
    first = max(cheap[0], proven[0], key=lambda bound: bound.value)
    if left_out > proven[0].value:
        return (first, *cheap[1:])
    return (
        first,
        *(max(pair, key=lambda bound: bound.value) for pair in zip(cheap[1:], proven[1:], strict=True)),
    )
