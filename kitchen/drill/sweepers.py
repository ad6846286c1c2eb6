"""Sweeps in processes of their own, several at once, shot at random: ``python -m kitchen.drill.sweepers``.

This process reads the settings once and forks, so that hundreds can be shot in a minute. A sweeper sweeps until nothing
is left that is due or soon will be. Until all shots are made each new sweeper is doomed: shot from outside at a random
moment, or at one of its next messages, just before or just after it. At the end a line of JSON says how it went.
"""

from __future__ import annotations

import json
import os
import random
import signal
from argparse import ArgumentParser
from collections import Counter
from collections.abc import Callable
from dataclasses import dataclass, field
from datetime import datetime
from time import monotonic, sleep
from typing import NoReturn

import django

_LONGEST_LIFE_SECONDS = 0.25
"""Within this a sweeper that is shot from outside sends some ten messages."""
_NEVER = float("inf")

Sweep = Callable[[int, str | None], NoReturn]
"""What a sweeper does: the number of the message at which it is shot, and whether before or after it or not at all."""


@dataclass(slots=True, kw_only=True)
class Storm:
    """Who is alive, with the moment at which they are to be shot, and how the others ended."""

    sweep: Sweep
    dice: random.Random
    shots: int
    messages_a_life: int
    alive: dict[int, float | None] = field(default_factory=dict)
    ended: Counter[str] = field(default_factory=Counter)

    def send_in(self) -> bool:
        """Fork one more sweeper. No more are doomed than shots are left; False while nobody is to be spared yet.

        Were others sent in beside them, a quick machine would leave the doomed nothing to be shot at. Whoever is shot
        from outside is shot at the last of its messages if it gets as far.
        """
        doomed = self.ended["shot"] + sum(end is not None for end in self.alive.values())
        if doomed >= self.shots > self.ended["shot"]:
            return False
        doom = self.dice.choice(("outside", "before", "after")) if doomed < self.shots else None
        message = self.dice.randint(1, self.messages_a_life)
        life = self.dice.uniform(0, _LONGEST_LIFE_SECONDS) if doom == "outside" else _NEVER
        pid = os.fork()
        if pid == 0:
            self.sweep(*((self.messages_a_life, "after") if doom == "outside" else (message, doom)))
        self.alive[pid] = monotonic() + life if doom else None
        return True

    def shoot(self) -> None:
        """Shoot everybody whose moment has come."""
        for pid, end in self.alive.items():
            if end is not None and monotonic() >= end:
                os.kill(pid, signal.SIGKILL)

    def bury(self) -> None:
        """Note who has ended, and how."""
        while self.alive:
            pid, status = os.waitpid(-1, os.WNOHANG)
            if pid == 0:
                return
            self.ended[_how(status)] += 1
            del self.alive[pid]


def main() -> None:
    """Send sweepers in until as many were shot as was asked for, and one has found nothing left or failed."""
    parser = ArgumentParser(description="Sweepers, some of them shot, until nothing is left.")
    parser.add_argument("--until", type=datetime.fromisoformat, required=True, help="what is due later stays")
    parser.add_argument("--at-once", type=int, required=True, help="how many sweep at a time")
    parser.add_argument("--shots", type=int, default=0, help="how many are shot")
    parser.add_argument("--messages-a-life", type=int, default=1, help="at which message at latest")
    parser.add_argument("--lease", type=float, required=True, help="how long a claim holds, in seconds")
    parser.add_argument("--seed", type=int, default=1)
    parser.add_argument("--without-claims", action="store_true", help="the control: send whatever was read")
    options = parser.parse_args()
    django.setup()
    from kitchen.drill import sweeping  # noqa: PLC0415  (after the set-up, and before the forks)

    storm = Storm(
        sweep=sweeping.sweeper(options.until, options.lease, with_claims=not options.without_claims),
        dice=random.Random(options.seed),  # noqa: S311  (it is to be repeatable; nothing is kept secret)
        shots=options.shots,
        messages_a_life=options.messages_a_life,
    )
    while not storm.ended["in peace"] and not storm.ended["failed"]:
        while len(storm.alive) < options.at_once and storm.send_in():
            pass
        _pass_time(storm)
    while storm.alive:
        _pass_time(storm)
    print(json.dumps(dict(storm.ended)))  # noqa: T201  (it is what the drill reads)


def _pass_time(storm: Storm) -> None:
    sleep(0.002)  # The sweepers work meanwhile.
    storm.shoot()
    storm.bury()


def _how(status: int) -> str:
    if os.WIFSIGNALED(status):
        return "shot"
    return "in peace" if os.WEXITSTATUS(status) == 0 else "failed"


if __name__ == "__main__":
    main()
