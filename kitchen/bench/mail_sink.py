"""A mail server on this machine that forgets every message: ``python -m kitchen.bench.mail_sink PORT FILE``.

It does as little as a mail server can, so that what is measured is who sends. How many messages it took stands in the
file when it has ended.
"""

from __future__ import annotations

import asyncio
import signal
import sys
from pathlib import Path

_END = b"\r\n.\r\n"
_ANSWERS = {
    b"EHLO": b"250 sink\r\n",
    b"HELO": b"250 sink\r\n",
    b"DATA": b"354 go on\r\n",
    b"QUIT": b"221 bye\r\n",
}


class Sink(asyncio.Protocol):
    """One conversation. ``taken`` counts the messages of all."""

    taken = 0

    def __init__(self) -> None:
        self.waiting = b""
        self.in_message = False

    def connection_made(self, transport: asyncio.BaseTransport) -> None:
        """Greet."""
        assert isinstance(transport, asyncio.Transport)  # noqa: S101  (for the type alone)
        self.transport = transport
        self.transport.write(b"220 sink\r\n")

    def data_received(self, data: bytes) -> None:
        """Answer what is whole; the rest waits for more."""
        self.waiting += data
        while True:
            whole, end, rest = self.waiting.partition(_END if self.in_message else b"\r\n")
            if not end:
                return
            self.waiting = rest
            self._answer(whole)

    def _answer(self, whole: bytes) -> None:
        if self.in_message:
            self.in_message = False
            Sink.taken += 1
            self.transport.write(b"250 taken\r\n")
            return
        word = whole[:4].upper()
        self.in_message = word == b"DATA"
        self.transport.write(_ANSWERS.get(word, b"250 fine\r\n"))
        if word == b"QUIT":
            self.transport.close()


async def serve(port: int) -> None:
    """Take messages until told to stop."""
    loop, stopped = asyncio.get_running_loop(), asyncio.Event()
    loop.add_signal_handler(signal.SIGTERM, stopped.set)
    async with await loop.create_server(Sink, "127.0.0.1", port):
        await stopped.wait()


if __name__ == "__main__":
    asyncio.run(serve(int(sys.argv[1])))
    Path(sys.argv[2]).write_text(str(Sink.taken), encoding="ascii")
