"""``python -m scheduler compile``: translate the search to machine code now, so that no plan has to wait for it."""

from __future__ import annotations

import time
from collections.abc import Sequence
from typing import TextIO

from scheduler.commands.arguments import DONE, Arguments, read_arguments
from scheduler.generator import Size, random_day
from scheduler.planner import FORMING_SECONDS, plan


def run(argv: Sequence[str], out: TextIO, err: TextIO) -> int:
    """Plan a made-up day, which uses every loop; what was translated before is only fetched."""
    parser = Arguments(
        prog="python -m scheduler compile",
        description="Translate the search to machine code. It is kept, and done anew only when the program changes.",
    )
    arguments = read_arguments(parser, argv, out, err)
    if isinstance(arguments, int):
        return arguments
    begun = time.monotonic()
    plan(random_day(1, Size.S), seconds=FORMING_SECONDS, seed=1, clock=time.monotonic)
    out.write(f"The search is ready ({time.monotonic() - begun:.0f} s).\n")
    return DONE
