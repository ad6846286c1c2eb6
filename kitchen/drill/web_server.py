"""The web server as it is served, for drills."""

from __future__ import annotations

from collections.abc import Mapping
from socket import socket

from kitchen.bench.processes import Process, start
from kitchen.serve.command import web_server


def start_web_server(variables: Mapping[str, str], listener: socket) -> Process:
    """The web server on an open socket, in a process group of its own."""
    child = web_server(listener.fileno())
    return start(variables, *child.command[1:], files=child.files)
