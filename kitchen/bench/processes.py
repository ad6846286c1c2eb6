"""Processes apart from the kitchen, for drills and benches: where they take place, how they begin and end."""

from __future__ import annotations

import os
import signal
import subprocess
import sys
from collections.abc import Callable, Iterator, Mapping, Sequence
from contextlib import contextmanager, suppress
from dataclasses import dataclass
from pathlib import Path
from time import monotonic, sleep
from typing import IO

from django.db import connection

from kitchen.configuration.data_folder import make_data_folder

PROJECT = Path(__file__).resolve().parents[2]
LONG_SECONDS = 60
"""How long something may take that is a moment's work, on a machine that is busy."""

Process = subprocess.Popen[bytes]


@dataclass(frozen=True, slots=True, kw_only=True)
class Place:
    """Where processes take place: a folder of their own, beside the database at hand, which is theirs too."""

    folder: Path

    @property
    def mail_file(self) -> Path:
        """Where its mail goes."""
        return self.folder / "paper"

    @property
    def log(self) -> Path:
        """Where its workers log."""
        return self.folder / "log"

    def environment(self, **more: str) -> dict[str, str]:
        """What a process needs to find it; nothing that leads to the kitchen's mail, broker or files."""
        return environment(self.folder, str(connection.settings_dict["NAME"]), **more)


def environment(folder: Path, database: str, **more: str) -> dict[str, str]:
    """The variables of a process whose database and folder these are.

    Of the kitchen's own variables only the one that names its database server is left, and a key that was given so.
    """
    make_data_folder(folder)
    kept = {
        name: value
        for name, value in os.environ.items()
        if not name.startswith("KITCHEN_") or name in {"KITCHEN_DATABASE_URL", "KITCHEN_SECRET_KEY"}
    }
    return {
        **kept,
        "DJANGO_SETTINGS_MODULE": "kitchen.bench.process_settings",
        "KITCHEN_DATA": str(folder),
        "KITCHEN_APART_DATABASE": database,
        "KITCHEN_APART_MAIL": str(folder / "paper"),
        "PYTHONPATH": str(PROJECT),
        **more,
    }


def start(
    variables: Mapping[str, str], *arguments: str, files: Sequence[int] = (), log: IO[bytes] | None = None
) -> Process:
    """A Python program in a process group of its own; what it says goes to ``log``, if there is one."""
    return subprocess.Popen(
        [sys.executable, *arguments],
        env=dict(variables),
        cwd=PROJECT,
        start_new_session=True,
        pass_fds=tuple(files),
        stdout=log,
        stderr=log,
    )


def start_celery(variables: Mapping[str, str], log: Path, *arguments: str) -> Process:
    """A worker or a beat, that logs to this file."""
    with log.open("ab") as lines:
        return start(variables, "-m", "celery", "-A", "kitchen.celery", "--quiet", *arguments, log=lines)


def end_group(process: Process) -> None:
    """Shoot a process and its children."""
    with suppress(ProcessLookupError):  # It may have ended by itself.
        os.killpg(process.pid, signal.SIGKILL)
    process.wait(timeout=10)


@contextmanager
def ended_after(running: list[Process]) -> Iterator[list[Process]]:
    """Whatever is in the list when the block is left is ended then."""
    try:
        yield running
    finally:
        for process in running:
            end_group(process)


def wait_until(true: Callable[[], bool], *, what: str, seconds: float = LONG_SECONDS) -> None:
    """Wait for something to become true; a ``TimeoutError`` when it does not."""
    deadline = monotonic() + seconds
    while not true():
        if monotonic() > deadline:
            raise TimeoutError(f"{what} did not happen within {seconds} s.")
        sleep(0.1)  # Another process does it.
