"""The supervisor: its children live and end with it, however it ends."""

from __future__ import annotations

import os
import signal
import socket
import subprocess
import sys
from collections.abc import Iterator

import pytest

from kitchen.serve.supervisor import MOST_DEATHS
from tests.deploy.waiting import PROJECT, eventually, free_port, is_free

SUPERVISE = """
import sys
from kitchen.errors import ChildKeepsDying
from kitchen.serve.supervisor import Child, supervise

try:
    child = Child(name="child", command=(sys.executable, "-c", sys.argv[1]))
    supervise([child], grace_seconds=float(sys.argv[2]))
except ChildKeepsDying as refusal:
    sys.exit(refusal.message)
"""

LISTEN = """
import os, signal, socket, subprocess, sys
listener = socket.socket()
listener.setsockopt(socket.SOL_SOCKET, socket.SO_REUSEADDR, 1)
listener.bind(("127.0.0.1", PORT))
listener.listen()
MORE
while True:
    connection, _ = listener.accept()
    connection.sendall(str(os.getpid()).encode())
    connection.close()
"""
IS_DEAF = "signal.signal(signal.SIGTERM, signal.SIG_IGN)"
HAS_A_CHILD_THAT_HOLDS_THE_PORT = """
os.set_inheritable(listener.fileno(), True)
subprocess.Popen([sys.executable, "-c", "import time; time.sleep(600)"], close_fds=False)
"""


class Supervised:
    """A supervisor in a process of its own, over one child that listens on a port and tells its id."""

    def __init__(self, more: str = "", grace_seconds: float = 20) -> None:
        self.port = free_port()
        program = LISTEN.replace("PORT", str(self.port)).replace("MORE", more)
        self.process = supervisor(program, grace_seconds)

    def child(self) -> int | None:
        """The child's process id, or none while it does not answer."""
        try:
            with socket.create_connection(("127.0.0.1", self.port), timeout=1) as connection:
                return int(connection.recv(20) or 0) or None
        except OSError:
            return None

    def starts(self) -> bool:
        return eventually(lambda: self.child() is not None)


def supervisor(program: str, grace_seconds: float = 20, stderr: int | None = None) -> subprocess.Popen[str]:
    return subprocess.Popen(
        [sys.executable, "-c", SUPERVISE, program, str(grace_seconds)],
        cwd=PROJECT,
        stderr=stderr,
        text=True,
    )


@pytest.fixture
def supervised() -> Iterator[Supervised]:
    one = Supervised()
    try:
        assert one.starts()
        yield one
    finally:
        one.process.kill()
        one.process.wait()


@pytest.mark.parametrize("sent", [signal.SIGTERM, signal.SIGINT, signal.SIGHUP])
def test_told_to_stop_it_stops_its_children(supervised: Supervised, sent: signal.Signals) -> None:
    supervised.process.send_signal(sent)
    supervised.process.wait()
    assert supervised.process.returncode == 0
    assert is_free(supervised.port)


@pytest.mark.skipif(sys.platform != "linux", reason="only Linux tells children that their parent was killed")
def test_killed_outright_it_leaves_nobody_on_the_port(supervised: Supervised) -> None:
    supervised.process.kill()
    supervised.process.wait()
    assert eventually(lambda: is_free(supervised.port))


def test_a_child_that_dies_is_started_again(supervised: Supervised) -> None:
    first = supervised.child()
    assert first is not None
    os.kill(first, signal.SIGKILL)
    assert eventually(lambda: supervised.child() not in {None, first})


def test_a_child_that_keeps_dying_ends_it_all() -> None:
    one = supervisor("import sys; print('tried', file=sys.stderr); sys.exit(3)", stderr=subprocess.PIPE)
    _, said = one.communicate()
    assert one.returncode == 1
    assert said.splitlines() == [
        *["tried"] * MOST_DEATHS,
        "The child ended 5 times within a minute, last with status 3.",
    ]


@pytest.mark.parametrize("more", [IS_DEAF, HAS_A_CHILD_THAT_HOLDS_THE_PORT])
def test_what_does_not_end_by_itself_is_made_to(more: str) -> None:
    one = Supervised(more, grace_seconds=0.5)
    assert one.starts()
    one.process.terminate()
    one.process.wait()
    assert one.process.returncode == 0
    assert eventually(lambda: is_free(one.port))


def test_a_second_signal_cuts_the_wait_short() -> None:
    one = Supervised(IS_DEAF, grace_seconds=3600)
    assert one.starts()
    one.process.terminate()
    assert eventually(lambda: _asks_again(one.process))
    assert is_free(one.port)


def _asks_again(process: subprocess.Popen[str]) -> bool:
    """Ask once more, and tell whether the process has ended.

    One signal may be swallowed by the first that still waits.
    """
    process.terminate()
    return process.poll() is not None
