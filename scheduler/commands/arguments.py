"""Reading a command line and answering refusals, the same way for every command.

Exit statuses: 0 done, 1 refused for a reason of the kitchen's, 2 the command line itself is wrong.
"""

from __future__ import annotations

import argparse
import json
from collections.abc import Callable, Sequence
from enum import StrEnum
from typing import NoReturn, TextIO, TypeVar

from scheduler.errors import NoPublishedProcess, SchedulerError, UnknownFood

DONE = 0
REFUSED = 1
MISUSED = 2


_Choice = TypeVar("_Choice", bound=StrEnum)


class Misused(Exception):
    """The command line is wrong: ``message`` says how, ``usage`` what it should be."""

    def __init__(self, message: str, usage: str) -> None:
        super().__init__(message)
        self.message = message
        self.usage = usage


class HelpAsked(Exception):
    """Help was asked for and nothing else should happen; ``text`` is the help."""

    def __init__(self, text: str) -> None:
        super().__init__(text)
        self.text = text


class Arguments(argparse.ArgumentParser):
    """An argument parser that ends no program and prints nothing: it raises ``Misused`` or ``HelpAsked``."""

    def error(self, message: str) -> NoReturn:
        """Refuse a wrong command line."""
        raise Misused(message, self.format_usage())

    def print_help(self, file: object = None) -> None:
        """Hand the help to whoever runs the command."""
        raise HelpAsked(self.format_help())


def one_of(choices: type[_Choice]) -> Callable[[str], _Choice]:
    """Reads one of the choices by its spelling; capitals and hyphen or underscore do not matter."""
    spellings = {_plain(choice): choice for choice in choices}

    def read(text: str) -> _Choice:
        if _plain(text) not in spellings:
            raise argparse.ArgumentTypeError(f"{text!r} is none of {', '.join(choices)}")
        return spellings[_plain(text)]

    return read


def read_arguments(
    parser: Arguments, argv: Sequence[str], out: TextIO, err: TextIO
) -> argparse.Namespace | int:
    """The parsed arguments, or the exit status when there is nothing more to do."""
    try:
        return parser.parse_args(list(argv))
    except HelpAsked as asked:
        out.write(asked.text)
        return DONE
    except Misused as misused:
        if "--json" in argv:
            _write_json(out, {"error": "usage", "message": misused.message, "remedy": misused.usage.strip()})
        else:
            err.write(f"{misused.usage}{misused.message}\n")
        return MISUSED


def answer_refusal(refusal: SchedulerError, *, as_json: bool, out: TextIO, err: TextIO) -> int:
    """Say what was refused and what to do: a line on ``err``, or an object on ``out``. Returns the exit status."""
    if as_json:
        _write_json(out, refusal_object(refusal))
    else:
        err.write(f"{refusal.message}\n{refusal.remedy}\n")
    return REFUSED


def refusal_object(refusal: SchedulerError) -> dict[str, object]:
    """The refusal for a machine: its code, message and remedy, with the nearest foods or what is published."""
    found: dict[str, object] = {"error": refusal.code, "message": refusal.message, "remedy": refusal.remedy}
    if isinstance(refusal, UnknownFood):
        found["nearest"] = list(refusal.nearest)
    if isinstance(refusal, NoPublishedProcess):
        found["published"] = list(refusal.published)
    return found


def _plain(text: str) -> str:
    return text.casefold().replace("-", "_")


def _write_json(out: TextIO, value: object) -> None:
    out.write(json.dumps(value, indent=2) + "\n")
