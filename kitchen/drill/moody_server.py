"""A mail server on this machine with moods: slow, silent, refusing, or hanging up. It keeps nothing but ids."""

from __future__ import annotations

import re
import socketserver
from collections.abc import Iterator
from contextlib import contextmanager
from dataclasses import dataclass, field
from threading import Event, Thread

_ID = re.compile(rb"^Message-ID: (<[^>]+>)", re.MULTILINE)


@dataclass(slots=True, kw_only=True)
class Mood:
    """How it answers: after so many seconds, not at all, no to each message, or not after so many on one line."""

    seconds: float = 0
    silent: bool = False
    refuses: bool = False
    messages_a_line: int | None = None


@dataclass(slots=True, kw_only=True)
class MoodyServer:
    """Its mood, which may change at any time, and whom it has met. ``taken`` are the ids of what it took."""

    mood: Mood = field(default_factory=Mood)
    taken: list[str] = field(default_factory=list)
    lines: int = 0
    port: int = 0
    closing: Event = field(default_factory=Event)


@contextmanager
def moody_server() -> Iterator[MoodyServer]:
    """Open until the block is left."""
    told = MoodyServer()

    class _Conversation(socketserver.StreamRequestHandler):
        def handle(self) -> None:
            _converse(self, told)

    class _Server(socketserver.ThreadingTCPServer):
        daemon_threads = True
        block_on_close = False

    with _Server(("127.0.0.1", 0), _Conversation) as server:
        told.port = server.server_address[1]
        Thread(target=server.serve_forever, kwargs={"poll_interval": 0.05}, daemon=True).start()
        try:
            yield told
        finally:
            told.closing.set()
            server.shutdown()


def _converse(with_whom: socketserver.StreamRequestHandler, server: MoodyServer) -> None:
    server.lines += 1
    messages = 0
    if not _say(with_whom, server, b"220 here"):
        return
    for line in with_whom.rfile:
        word = line[:4].upper()
        if word == b"QUIT":
            _say(with_whom, server, b"221 bye")
            return
        if word != b"DATA":
            answered = _say(with_whom, server, b"250 fine")
        else:
            messages += 1
            if server.mood.messages_a_line is not None and messages > server.mood.messages_a_line:
                return
            answered = _say(with_whom, server, b"354 go on") and _take(with_whom, server)
        if not answered:
            return


def _take(from_whom: socketserver.StreamRequestHandler, server: MoodyServer) -> bool:
    whole = b""
    for line in from_whom.rfile:
        if line == b".\r\n":
            break
        whole += line
    if server.mood.refuses:
        return _say(from_whom, server, b"451 not now")
    found = _ID.search(whole)
    if found is None:
        return _say(from_whom, server, b"550 no id")
    if server.mood.silent:
        return _say(from_whom, server, b"")
    server.taken.append(found[1].decode("ascii"))
    return _say(from_whom, server, b"250 taken")


def _say(to_whom: socketserver.StreamRequestHandler, server: MoodyServer, what: bytes) -> bool:
    """Answer in its mood; False when it says nothing until it is closed."""
    if server.mood.silent:
        server.closing.wait()
        return False
    if server.mood.seconds:
        server.closing.wait(server.mood.seconds)
    to_whom.wfile.write(what + b"\r\n")
    return True
