"""Asking an address that somebody gave, and nobody else's.

The address is somebody's wish, so it must not lead the server to itself or its neighbours. Only HTTPS on its usual port
is asked. The host's name is looked up once, every answer must be an address that the whole world may reach, and the
connection goes to the very address that was looked at. Size and time are limited. No cookies, no passwords, no proxy; a
redirect is told and not followed.
"""

from __future__ import annotations

import socket
import ssl
from collections.abc import Callable, Mapping
from contextlib import closing, suppress
from dataclasses import dataclass
from http.client import HTTPException, HTTPResponse, HTTPSConnection
from ipaddress import IPv4Address, IPv6Address, IPv6Network, ip_address
from threading import Timer
from urllib.parse import SplitResult, urlsplit

from kitchen.errors import BadAddress, NoAnswer

LONGEST_ADDRESS = 500
_PORT = 443
_CHUNK = 65_536
# RFC 6052: addresses of IPv4 hosts as seen through a translator.
_TRANSLATED = IPv6Network("64:ff9b::/96")

LookUp = Callable[[str], list[str]]
"""A host's addresses. ``OSError`` when it has none."""
Connect = Callable[[str, str, float], socket.socket]
"""An encrypted connection to a host at an address, within so many seconds."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Answer:
    """What a host said. ``body`` has at most one byte more than was allowed, which shows that it was too much."""

    status: int
    location: str
    body: bytes


def checked_address(address: str, *, schemes: tuple[str, ...] = ("https",)) -> str:
    """The address as it will be asked. ``BadAddress`` unless it is plain HTTPS with a host and nothing secret in it.

    ``schemes`` are other names that stand for the same thing.
    """
    try:
        parts = urlsplit(address.strip())
        port = parts.port
        host = (parts.hostname or "").encode("idna").decode()
    except ValueError as error:
        raise BadAddress("This is not an address.", remedy="Copy it again, whole.") from error
    if parts.scheme not in schemes:
        raise BadAddress(
            "Only an encrypted address can be followed.",
            remedy="Give one that begins with https://.",
        )
    if not host or ":" in host or parts.username is not None or port not in (None, _PORT):
        raise BadAddress(
            "This address cannot be followed.",
            remedy="Give one without a user name, a password or a port in it.",
        )
    asked = SplitResult("https", host, parts.path or "/", parts.query, "").geturl()
    if len(asked) > LONGEST_ADDRESS or not asked.isascii() or not asked.isprintable() or " " in asked:
        raise BadAddress("This address is too long or has odd characters.", remedy="Copy it again, whole.")
    return asked


def host_of(address: str) -> str:
    """The host in an address that was checked: all of it that may be shown."""
    return urlsplit(address).hostname or ""


def is_public(address: str) -> bool:
    """True when an IP address may be reached by the whole world; so must one that hides inside another."""
    found = ip_address(address.partition("%")[0])
    if isinstance(found, IPv6Address):
        if found in _TRANSLATED:
            return is_public(str(IPv4Address(int(found) & 0xFFFFFFFF)))
        hidden = [found.ipv4_mapped, found.sixtofour, *(found.teredo or ())]
        if any(one is not None and not is_public(str(one)) for one in hidden):
            return False
        if found.ipv4_mapped is not None:
            return True
    return found.is_global and not found.is_multicast and not found.is_reserved


def look_up(host: str) -> list[str]:
    """The host's addresses, in the order in which they should be tried."""
    found = socket.getaddrinfo(host, _PORT, type=socket.SOCK_STREAM)
    return [str(one[4][0]) for one in found]


def connect_securely(host: str, address: str, seconds: float) -> socket.socket:
    """A connection to this very address. Its certificate is held to the host's name in the handshake, still to come."""
    plain = socket.create_connection((address, _PORT), timeout=seconds)
    return secure_context().wrap_socket(plain, server_hostname=host, do_handshake_on_connect=False)


def secure_context() -> ssl.SSLContext:
    """Certificates and host names are checked."""
    return ssl.create_default_context()


def ask(
    method: str,
    address: str,
    *,
    seconds: float,
    most_bytes: int,
    headers: Mapping[str, str],
    body: bytes | None = None,
    look_up: LookUp = look_up,
    connect: Connect = connect_securely,
) -> Answer:
    """What the host of an address that was checked answers, read up to so many bytes.

    ``BadAddress``: the host is not known, or not out in the world. ``NoAnswer``: it could not be reached, or takes
    longer than ``seconds`` for all of it.
    """
    host = host_of(address)
    ours = _Pinned(host, _reachable(host, look_up), connect, seconds)
    late = Timer(seconds, ours.cut)
    late.daemon = True
    late.start()
    try:
        with closing(ours):
            parts = urlsplit(address)
            target = parts.path + (f"?{parts.query}" if parts.query else "")
            ours.request(method, target, body=body, headers={"User-Agent": "kitchen-planner", **headers})
            answer = _read(ours.getresponse(), most_bytes)
            if ours.is_cut:
                raise TimeoutError
            return answer
    except (OSError, HTTPException, ValueError) as error:
        why = "takes too long to answer" if ours.is_cut else "could not be reached"
        raise NoAnswer(f"{host} {why}.", remedy="It is tried again later.") from error
    finally:
        late.cancel()


def _reachable(host: str, look_up: LookUp) -> str:
    try:
        addresses = look_up(host)
    except OSError as error:
        raise BadAddress(f"{host} was not found.", remedy="Look at the address again.") from error
    if not addresses or not all(is_public(one) for one in addresses):
        raise BadAddress(
            f"{host} is not on the open internet.", remedy="Give an address that works from everywhere."
        )
    return addresses[0]


def _read(response: HTTPResponse, most_bytes: int) -> Answer:
    # One byte more than is allowed shows that it is too much.
    held = bytearray()
    while len(held) <= most_bytes and (piece := response.read(min(_CHUNK, most_bytes + 1 - len(held)))):
        held += piece
    if len(held) <= most_bytes and response.length:
        raise HTTPException("the answer broke off")
    return Answer(status=response.status, location=response.getheader("Location", ""), body=bytes(held))


class _Pinned(HTTPSConnection):
    """A connection to the address that was looked at, whatever the name is looked up as by then."""

    def __init__(self, host: str, address: str, connect: Connect, seconds: float) -> None:
        super().__init__(host, timeout=seconds)
        self._address, self._connect, self._seconds = address, connect, seconds
        # The base class forgets its socket when it hands an answer without a length on to its reader.
        self._held: socket.socket | None = None
        self.is_cut = False

    def connect(self) -> None:
        self.sock = self._held = self._connect(self.host, self._address, self._seconds)
        if self.is_cut:
            raise TimeoutError
        # Only now, so that a handshake that drags on can be cut as well.
        if isinstance(self.sock, ssl.SSLSocket):
            self.sock.do_handshake()

    def cut(self) -> None:
        """End it in the middle: drop by drop, an answer could take for ever."""
        self.is_cut = True
        if self._held is not None:
            with suppress(OSError):  # It may have ended by itself meanwhile.
                self._held.shutdown(socket.SHUT_RDWR)
