"""``python -m kitchen serve`` whole: web server, worker and beat in their processes."""

from __future__ import annotations

import json
import os
import subprocess
import sys
from collections.abc import Iterator
from pathlib import Path
from urllib.request import urlopen

import pytest

from tests.deploy.waiting import PROJECT, eventually, free_port, is_free

pytestmark = [
    pytest.mark.sqlite,  # The processes are set up by their own environment, not by the leg's.
    pytest.mark.skipif(sys.platform != "linux", reason="reads Linux's list of processes"),
]


class Served:
    """A kitchen without the demo, served from a data folder of its own."""

    def __init__(self, data: Path) -> None:
        self.data = data
        self.log = data.with_suffix(".log")
        self.port = free_port()
        self.process = self.start()

    def start(self) -> subprocess.Popen[bytes]:
        ours = {
            name: value for name, value in os.environ.items() if not name.startswith(("KITCHEN_", "DJANGO_"))
        }
        own = {"KITCHEN_DATA": str(self.data), "KITCHEN_PORT": str(self.port), "KITCHEN_EMPTY": "1"}
        with self.log.open("a") as log:
            return subprocess.Popen(
                [sys.executable, "-m", "kitchen", "serve"],
                cwd=PROJECT,
                env=ours | own,
                stdout=log,
                stderr=subprocess.STDOUT,
            )

    def get(self, path: str) -> bytes | None:
        """The page, or none while nobody answers."""
        try:
            with urlopen(f"http://127.0.0.1:{self.port}{path}", timeout=10) as answer:
                page: bytes = answer.read()
                return page
        except OSError:  # Refused, closed, or not answered within ten seconds.
            return None

    def works(self) -> bool:
        """Whether pages are answered and the beat has begun to keep its schedule."""
        return self.get("/healthz") == b"ok\n" and any(self.data.glob("beat*"))

    def processes(self) -> list[int]:
        """All processes that were started with this data folder, children's children too."""
        mark = f"KITCHEN_DATA={self.data}\0".encode()
        found = []
        for folder in Path("/proc").glob("[0-9]*"):
            try:
                if mark in (folder / "environ").read_bytes():
                    found.append(int(folder.name))
            except OSError:
                continue  # It has ended, or is somebody else's.
        return found


@pytest.fixture
def served(tmp_path: Path) -> Iterator[Served]:
    one = Served(tmp_path / "the data")
    try:
        assert eventually(one.works), one.log.read_text()
        yield one
    finally:
        one.process.terminate()
        one.process.wait()


def test_it_answers_and_stops_cleanly(served: Served) -> None:
    ready = json.loads(served.get("/readyz") or b"")
    assert (ready["ready"], ready["database"], ready["migrations"]) == (True, "ok", "ok")
    assert eventually(lambda: json.loads(served.get("/readyz") or b"")["sweep"] == "ok")
    served.process.terminate()
    served.process.wait()
    assert served.log.read_text().startswith(f"The kitchen is at http://localhost:{served.port}/")
    assert served.process.returncode == 0
    assert served.processes() == []
    assert is_free(served.port)


def test_killed_outright_it_leaves_nothing_and_starts_again(served: Served) -> None:
    served.process.kill()
    served.process.wait()
    assert eventually(lambda: is_free(served.port) and not served.processes())
    served.process = served.start()
    assert eventually(served.works)


def test_a_second_start_on_the_same_data_is_refused(served: Served) -> None:
    second = served.start()
    assert second.wait() == 1
    assert "is already being served" in served.log.read_text()
    assert served.get("/healthz") == b"ok\n"
