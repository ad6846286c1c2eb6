"""Starting and ending the processes of a drill."""

from __future__ import annotations

import os
import signal
import subprocess
import sys
from collections.abc import Callable, Mapping, Sequence
from contextlib import suppress
from pathlib import Path
from socket import socket
from time import monotonic, sleep

from django.db import connection

from kitchen.serve.command import web_server
from tests.drills.sweeper import START_LINE

PROJECT = Path(__file__).resolve().parents[2]


def environment(mail_file: Path, **more: str) -> dict[str, str]:
    """What a process needs to find the test's database and to write its mail."""
    name = connection.settings_dict["NAME"]
    return {
        **os.environ,
        "DJANGO_SETTINGS_MODULE": "tests.drills.process_settings",
        "KITCHEN_TEST_DATABASE_NAME": str(name),
        "KITCHEN_TEST_MAIL_FILE": str(mail_file),
        "PYTHONPATH": str(PROJECT),
        **more,
    }


def start_sweepers(
    how_many: int, variables: Mapping[str, str], start_line: Path, *arguments: str
) -> list[subprocess.Popen[bytes]]:
    """Processes that sweep until nothing is due, and that begin at the same moment."""
    start_line.mkdir()
    with_line = {**variables, START_LINE: str(start_line)}
    sweepers = [_start(with_line, "-m", "tests.drills.sweeper", *arguments) for _ in range(how_many)]
    wait_until(lambda: len(list(start_line.iterdir())) == how_many, seconds=60, what="the start")
    (start_line / "go").touch()
    return sweepers


def start_celery(variables: Mapping[str, str], *arguments: str) -> subprocess.Popen[bytes]:
    """A worker or a beat, in a process group of its own."""
    return _start(variables, "-m", "celery", "-A", "kitchen.celery", "--quiet", *arguments)


def start_web_server(variables: Mapping[str, str], listener: socket) -> subprocess.Popen[bytes]:
    """The web server as it is served, on an open socket, in a process group of its own."""
    child = web_server(listener.fileno())
    return _start(variables, *child.command[1:], files=child.files)


def end_group(process: subprocess.Popen[bytes]) -> None:
    """Shoot a process and its children."""
    with suppress(ProcessLookupError):  # It may have ended by itself.
        os.killpg(process.pid, signal.SIGKILL)
    process.wait(timeout=10)


def wait_until(true: Callable[[], bool], *, seconds: float, what: str) -> None:
    """Wait for something to become true; an ``AssertionError`` when it does not."""
    deadline = monotonic() + seconds
    while not true():
        assert monotonic() < deadline, f"{what} did not happen within {seconds} s"
        sleep(0.1)  # Another process does it.


def _start(
    variables: Mapping[str, str], *arguments: str, files: Sequence[int] = ()
) -> subprocess.Popen[bytes]:
    command = [sys.executable, *arguments]
    return subprocess.Popen(
        command, env=dict(variables), cwd=PROJECT, start_new_session=True, pass_fds=tuple(files)
    )
