"""Child processes that live and end with this one.

A child that dies is started again, a few times. On SIGTERM or SIGINT every child is asked to end, then made
to. When this process is killed outright the kernel tells the children to end (Linux), so that none stays
behind and keeps the port.
"""

from __future__ import annotations

import ctypes
import os
import signal
import subprocess
import sys
import time
from collections import deque
from collections.abc import Sequence
from contextlib import suppress
from dataclasses import dataclass, field

from kitchen.errors import ChildKeepsDying

GRACE_SECONDS = 15.0
"""How long children may take to finish what they are doing. A page takes a second, a planning step a few."""

MOST_DEATHS = 5
DEATHS_WITHIN_SECONDS = 60.0

_STOP = frozenset({signal.SIGTERM, signal.SIGINT, signal.SIGHUP})
_WAITED_FOR = _STOP | {signal.SIGCHLD}
_PR_SET_PDEATHSIG = 1  # From Linux's <sys/prctl.h>.


@dataclass(frozen=True, slots=True, kw_only=True)
class Child:
    """A program to keep running, and the open files that it takes over."""

    name: str
    command: tuple[str, ...]
    files: tuple[int, ...] = ()


@dataclass(slots=True)
class _Running:
    child: Child
    process: subprocess.Popen[bytes]
    deaths: deque[float] = field(default_factory=lambda: deque(maxlen=MOST_DEATHS))


def supervise(children: Sequence[Child], *, grace_seconds: float = GRACE_SECONDS) -> None:
    """Run the children until this process is told to stop.

    A child that dies five times within a minute stops them all with ``ChildKeepsDying``.
    """
    before = signal.pthread_sigmask(signal.SIG_BLOCK, _WAITED_FOR)
    running: list[_Running] = []
    try:
        for child in children:
            running.append(_Running(child, _start(child)))
        while signal.sigwait(_WAITED_FOR) not in _STOP:
            _start_again(running)
    finally:
        _stop(running, grace_seconds)
        signal.pthread_sigmask(signal.SIG_SETMASK, before)


def _start(child: Child) -> subprocess.Popen[bytes]:
    """Start a child in a session of its own: a Ctrl-C on the terminal reaches this process alone, which then
    ends it.
    """
    libc = ctypes.CDLL(None) if sys.platform == "linux" else None
    parent = os.getpid()

    def tie_to_parent() -> None:
        signal.pthread_sigmask(signal.SIG_SETMASK, ())
        if libc is not None:
            libc.prctl(_PR_SET_PDEATHSIG, signal.SIGTERM, 0, 0, 0)
        if os.getppid() != parent:  # It died before the kernel was told.
            os._exit(1)

    return subprocess.Popen(
        child.command,
        stdin=subprocess.DEVNULL,
        pass_fds=child.files,
        start_new_session=True,
        preexec_fn=tie_to_parent,  # Safe: this process has one thread.
    )


def _start_again(running: list[_Running]) -> None:
    for one in running:
        status = one.process.poll()
        if status is None:
            continue
        now = time.monotonic()
        one.deaths.append(now)
        if len(one.deaths) == MOST_DEATHS and now - one.deaths[0] < DEATHS_WITHIN_SECONDS:
            raise ChildKeepsDying(
                f"The {one.child.name} ended {MOST_DEATHS} times within a minute, last with status {status}.",
                remedy="Read its messages above; start again when the cause is gone.",
            )
        one.process = _start(one.child)


def _stop(running: list[_Running], grace_seconds: float) -> None:
    """Ask every child to end and wait; kill what is left, with all that it started.

    A second signal cuts the wait short.
    """
    for one in running:
        if one.process.poll() is None:
            one.process.terminate()
    deadline = time.monotonic() + grace_seconds
    while any(one.process.poll() is None for one in running):
        left = deadline - time.monotonic()
        received = signal.sigtimedwait(_WAITED_FOR, left) if left > 0 else None
        if received is None or received.si_signo in _STOP:
            break
    for one in running:
        _kill_group(one.process)


def _kill_group(process: subprocess.Popen[bytes]) -> None:
    """Kill the child's session, of which it is the first process; its children may have outlived it."""
    # Nothing may be left of it (macOS answers "not permitted" for a group of dead processes).
    with suppress(ProcessLookupError, PermissionError):
        os.killpg(process.pid, signal.SIGKILL)
    process.wait()
