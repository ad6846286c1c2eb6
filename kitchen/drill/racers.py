"""Processes that book the same canners at once: ``python -m kitchen.drill.racers``.

Each tries to book so many random times, gives some of its own back in between, and leaves a file with what it was told.
"""

from __future__ import annotations

import json
import os
import random
import sys
import traceback
from argparse import ArgumentParser
from collections.abc import Callable
from functools import partial
from pathlib import Path

import django


def main() -> None:
    """Fork the racers, all of which wait until the last one is there; fail when one of them fails."""
    parser = ArgumentParser(description="Processes that book the same canners at once.")
    parser.add_argument("--kitchen", required=True, help="by its slug")
    parser.add_argument("--processes", type=int, required=True)
    parser.add_argument("--attempts", type=int, required=True, help="of all of them together")
    parser.add_argument("--folder", type=Path, required=True, help="where the files go")
    options = parser.parse_args()
    django.setup()
    from kitchen.drill import racing  # noqa: PLC0415  (after the set-up, and before the forks)

    start, go = os.pipe()
    for number in range(options.processes):
        if os.fork() == 0:
            os.close(go)
            os.read(start, 1)  # The pipe ends for all at once.
            attempts = len(range(number, options.attempts, options.processes))
            dice = random.Random(number)  # noqa: S311  (it is to be repeatable; nothing is kept secret)
            _live(partial(racing.race, options.kitchen, attempts, dice), options.folder / f"racer-{number}")
    os.close(go)
    ended = [os.waitpid(-1, 0)[1] for _ in range(options.processes)]
    sys.exit(any(ended))


def _live(race: Callable[[], list[dict[str, object]]], file: Path) -> None:
    """The whole life of a racer."""
    status = 1
    try:
        file.write_text(json.dumps(race()), encoding="utf-8")
        status = 0
    finally:
        # A child must not go on in its parent's loop, whatever happened to it.
        if status:
            traceback.print_exc(file=sys.stderr)
        os._exit(status)


if __name__ == "__main__":
    main()
