"""Waiting for what another process does, without a guess at how long it takes."""

from __future__ import annotations

import socket
import time
from collections.abc import Callable
from pathlib import Path

PROJECT = Path(__file__).resolve().parent.parent.parent
PATIENCE_SECONDS = 60.0
"""After this a test gives up; nothing is asserted about time."""


def eventually(holds: Callable[[], bool]) -> bool:
    """Whether it comes to hold within a minute."""
    deadline = time.monotonic() + PATIENCE_SECONDS
    while not holds():
        if time.monotonic() > deadline:
            return False
        time.sleep(0.05)  # Another process is at work; nothing here can be waited for.
    return True


def free_port() -> int:
    """A port of this machine that nobody listens on."""
    with socket.socket() as probe:
        probe.bind(("127.0.0.1", 0))
        port: int = probe.getsockname()[1]
        return port


def is_free(port: int) -> bool:
    """Whether a new server could take the port."""
    with socket.socket() as probe:
        probe.setsockopt(socket.SOL_SOCKET, socket.SO_REUSEADDR, 1)
        try:
            probe.bind(("127.0.0.1", port))
        except OSError:
            return False
        return True
