"""A Redis server of a drill's or bench's own, that keeps nothing."""

from __future__ import annotations

import shutil
import subprocess
from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path
from socket import socket

from redis import Redis
from redis.exceptions import ConnectionError as RedisConnectionError

from kitchen.bench.processes import wait_until
from kitchen.errors import BadConfiguration


def free_port() -> int:
    """A port of this machine on which nothing listens now."""
    with socket() as door:
        door.bind(("127.0.0.1", 0))
        port: int = door.getsockname()[1]
    return port


@contextmanager
def redis_server(port: int, folder: Path) -> Iterator[Redis]:
    """Within, a server on this port; it stops at once, as if it were killed. ``BadConfiguration`` without Redis."""
    program = shutil.which("redis-server")
    if program is None:
        raise BadConfiguration(
            "redis-server is not installed.",
            remedy="One is started for this alone, and stopped (Debian: apt install redis-server).",
        )
    command = [program, "--port", str(port), "--bind", "127.0.0.1", "--save", "", "--dir", str(folder)]
    server = subprocess.Popen(command, stdout=subprocess.DEVNULL)
    client = Redis(port=port)
    try:
        wait_until(lambda: _answers(client), what="The start of Redis")
        yield client
    finally:
        client.close()
        server.kill()
        server.wait(timeout=10)


def _answers(client: Redis) -> bool:
    try:
        return bool(client.ping())
    except RedisConnectionError:
        return False
