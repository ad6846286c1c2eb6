"""``python -m scheduler COMMAND``: the planner from the command line."""

from __future__ import annotations

import importlib
import os
import sys
from collections.abc import Callable, Mapping, Sequence
from typing import TextIO

from scheduler.commands.arguments import DONE, MISUSED

COMMANDS: Mapping[str, str] = {
    "process": "the published process for a food, pack, jar, canner and altitude",
    "foods": "the foods with published processes",
    "plan": "the planned day of a day file: loads, people, what is left out, how good it is",
    "replan": "the rest of a day under way, planned again, and what that changes",
    "rota": "the rota of a plan, drawn up again around people who are kept where they are",
    "judge": "every rule that a plan breaks",
    "learn": "what recorded times teach, and what is then planned with",
    "schema": "the JSON Schema of a day file",
    "compile": "the search as machine code, made now instead of with the first plan",
    "bench": "how the planner does on made-up days, against simple rules and proven bounds",
}
"""Each command and what it answers. A command's module has its name and lies in ``scheduler.commands``; it is imported
only when asked for, so that looking up a process never waits for the planner to load."""


def main(argv: Sequence[str], out: TextIO, err: TextIO) -> int:
    """Run the command named first and return its exit status; 2 when there is no such command."""
    if argv and argv[0] in ("-h", "--help"):
        out.write(_usage())
        return DONE
    if not argv or argv[0] not in COMMANDS:
        err.write(_usage())
        return MISUSED
    run: Callable[[Sequence[str], TextIO, TextIO], int] = importlib.import_module(
        f"scheduler.commands.{argv[0]}"
    ).run
    return run(argv[1:], out, err)


def _usage() -> str:
    width = max(map(len, COMMANDS))
    listed = "".join(f"  {name:{width}}  {what}\n" for name, what in COMMANDS.items())
    return f"usage: python -m scheduler COMMAND ...\n\n{listed}\nEach explains itself with --help.\n"


def _enter() -> int:
    try:
        status = main(sys.argv[1:], sys.stdout, sys.stderr)
        sys.stdout.flush()
    except BrokenPipeError:
        # The reader has had enough, as with `| head`: not an error of ours. What is left must go somewhere.
        os.dup2(os.open(os.devnull, os.O_WRONLY), sys.stdout.fileno())
        return DONE
    return status


if __name__ == "__main__":
    sys.exit(_enter())
