"""The front door on the command line: ``python -m kitchen COMMAND``.

``serve`` and ``check-day``, ``prepare``, ``web``, ``worker``, ``solver`` and ``beat`` are the kitchen's own; every
other command is one of Django's management commands, such as ``migrate``, ``createsuperuser`` or ``sweep``.
"""

from __future__ import annotations

import os
import sys
from collections.abc import Callable
from functools import partial
from pathlib import Path

from django.core.management.base import CommandError

from kitchen.configuration.data_folder import make_data_folder
from kitchen.configuration.environment import Environment
from kitchen.errors import BadConfiguration, KitchenError

INTERRUPTED = 130
"""What a shell reports for a program that Ctrl-C ended: 128 and the number of SIGINT."""

_PROJECT = Path(__file__).resolve().parent.parent


def main(arguments: list[str]) -> int:
    """Run one command. A refusal is told in two lines on the error stream; the answer is the exit status."""
    os.environ.setdefault("DJANGO_SETTINGS_MODULE", "kitchen.settings")
    try:
        make_data_folder(Environment(os.environ).data_folder(_PROJECT))
        _run(arguments)
    except KitchenError as refusal:
        print(f"{refusal.message}\n{refusal.remedy}", file=sys.stderr)
        return 1
    except CommandError as refusal:
        print(refusal, file=sys.stderr)
        return refusal.returncode
    except KeyboardInterrupt:
        return INTERRUPTED
    return 0


def _run(arguments: list[str]) -> None:
    import django  # noqa: PLC0415  (the data folder comes first: the settings read the key in it)
    from django.core.management import execute_from_command_line  # noqa: PLC0415  (likewise)

    django.setup()
    from kitchen.serve import command, roles  # noqa: PLC0415  (likewise)

    own: dict[str, Callable[[], None]] = {
        "serve": command.serve,
        "check-day": command.check_day,
        "prepare": command.make_ready,
        **{role: partial(roles.run, role) for role in roles.ROLES},
    }
    match arguments:
        case [name] if name in own:
            own[name]()
        case [name, *_] if name in own:
            raise BadConfiguration(
                f"{name} takes no arguments.", remedy="It is set up by KITCHEN_... variables."
            )
        case _:
            execute_from_command_line(["python -m kitchen", *arguments])


if __name__ == "__main__":
    sys.exit(main(sys.argv[1:]))
