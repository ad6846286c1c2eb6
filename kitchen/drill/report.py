"""What a drill tells: its figures, and each promise with whether it was kept."""

from __future__ import annotations

from collections.abc import Callable, Mapping
from dataclasses import dataclass, field

from kitchen.bench.processes import Place


@dataclass(slots=True, kw_only=True)
class Report:
    """The lines of a drill, told as they come."""

    tell: Callable[[str], object]
    broken: list[str] = field(default_factory=list)

    def figure(self, what: str) -> None:
        """A line with what was counted or measured."""
        self.tell(what)

    def promise(self, what: str, *, kept: bool) -> None:
        """A promise of the program, or of the drill that it can tell. One that is broken fails the drill."""
        self.tell(f"{'kept  ' if kept else 'BROKEN'}  {what}")
        if not kept:
            self.broken.append(what)


Sizes = Mapping[str, int]


@dataclass(frozen=True, slots=True, kw_only=True)
class Drill:
    """A drill by its name. ``sizes`` are its options with the sizes at which it is held to its promises;
    ``on_sqlite`` are those that differ there. ``minutes`` is how long it may take before it
    is broken off as failed.
    """

    name: str
    about: str
    sizes: Sizes
    minutes: int
    run: Callable[[Sizes, Place, Report], None]
    on_sqlite: Sizes = field(default_factory=dict)
