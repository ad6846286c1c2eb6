"""What must be there before the first page: tables, demo, plan, static files."""

from __future__ import annotations

import fcntl
from pathlib import Path
from typing import TextIO

from django.core.management import call_command

from kitchen.configuration.environment import Environment
from kitchen.errors import BadConfiguration
from kitchen.members.models import Kitchen


def lock_data_folder(folder: Path) -> TextIO:
    """Hold the folder as long as the returned file is open.

    The kernel lets go of it when the process ends, however it ends.
    """
    lock = (folder / "serve.lock").open("w", encoding="utf-8")
    try:
        fcntl.flock(lock, fcntl.LOCK_EX | fcntl.LOCK_NB)
    except BlockingIOError as error:
        lock.close()
        raise BadConfiguration(
            f"The kitchen with the data folder {folder} is already being served.",
            remedy="Stop that one first, or set KITCHEN_DATA to another folder.",
        ) from error
    return lock


def prepare(environment: Environment) -> None:
    """Bring the tables up to date, fill an empty kitchen with the demo, and lay out the static files.

    Safe to repeat.
    """
    call_command("migrate", interactive=False, verbosity=0)
    if wants_demo(environment):
        if not Kitchen.objects.exists():
            call_command("load_demo")
        call_command("plan_demo")
    call_command("collectstatic", interactive=False, verbosity=0)


def wants_demo(environment: Environment) -> bool:
    """Whether an empty database gets the demo: not when others can reach it, because everyone knows the
    demo's passwords.
    """
    reached_by_others = environment.flag("HTTPS") or bool(environment.named_hosts())
    return not reached_by_others and not environment.flag("EMPTY")
