"""How a call says which action it is of, and which lines that leaves."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass
from inspect import signature

from tests.factories.canner_runs import make_bean_run, make_beans_out
from tests.factories.furnished import furnish
from tests.factories.sites import make_site

Deed = Callable[[], object]

MAKERS: dict[str, Callable[[], object]] = {
    "site": make_site,
    "run": lambda: make_bean_run(make_site()),
    "out": lambda: make_beans_out(make_site()),
    "at": furnish,
}
"""What a call may ask for by its parameter: a site, a load to be run, one whose jars are out, one of everything."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Call:
    """A call of an action: ``ready`` makes what it needs and gives the deed; ``why`` it leaves more than one line."""

    ready: Callable[..., Deed]
    lines: tuple[str, ...]
    why: str

    def prepared(self) -> Deed:
        """The deed, with everything there that it needs."""
        (wanted,) = signature(self.ready).parameters
        return self.ready(MAKERS[wanted]())


CALLS: dict[str, Call] = {}


def leaves(action: str, *lines: str, why: str = "") -> Callable[[Callable[..., Deed]], Callable[..., Deed]]:
    """The action, by module and name, and the lines that a call of it leaves, in their order."""

    def keep(ready: Callable[..., Deed]) -> Callable[..., Deed]:
        assert action not in CALLS
        assert (len(lines) == 1) != bool(why), f"{action}: one line, or a reason"
        CALLS[action] = Call(ready=ready, lines=lines, why=why)
        return ready

    return keep
