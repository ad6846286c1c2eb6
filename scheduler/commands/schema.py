"""``python -m scheduler schema``: the JSON Schema of a day file."""

from __future__ import annotations

import json
from collections.abc import Sequence
from typing import TextIO

from scheduler.commands.arguments import DONE, Arguments, read_arguments
from scheduler.day_file import schema


def run(argv: Sequence[str], out: TextIO, err: TextIO) -> int:
    """Print the schema. 0 when done, 2 on wrong usage."""
    parser = Arguments(prog="python -m scheduler schema", description="Print the JSON Schema of a day file.")
    arguments = read_arguments(parser, argv, out, err)
    if isinstance(arguments, int):
        return arguments
    out.write(json.dumps(schema(), indent=2) + "\n")
    return DONE
