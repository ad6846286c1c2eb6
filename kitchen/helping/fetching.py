"""Fetching a calendar from an address that a member gave, and from nowhere else.

The address is somebody's wish, so it must not lead the server to itself or its neighbours. Only HTTPS on its usual port
is asked. The host's name is looked up once, every answer must be an address that the whole world may reach, and the
connection goes to the very address that was looked at; redirects are looked at in the same way. Size and time are
limited. No cookies, no passwords, no proxy.
"""

from __future__ import annotations

import socket
import ssl
from collections.abc import Callable
from contextlib import closing, suppress
from http.client import HTTPException, HTTPResponse, HTTPSConnection
from ipaddress import IPv4Address, IPv6Address, IPv6Network, ip_address
from threading import Timer
from time import monotonic
from urllib.parse import SplitResult, urljoin, urlsplit

from kitchen.errors import BadCalendar
from kitchen.helping.models import LONGEST_ADDRESS
from kitchen.helping.reading import MOST_BYTES

SECONDS = 20.0
"""How long one fetching may take, redirects and all."""
MOST_REDIRECTS = 3
_PORT = 443
_CHUNK = 65_536
_LEAST_SECONDS = 0.1
_REDIRECTS = frozenset({301, 302, 303, 307, 308})
# RFC 6052: addresses of IPv4 hosts as seen through a translator.
_TRANSLATED = IPv6Network("64:ff9b::/96")

LookUp = Callable[[str], list[str]]
"""A host's addresses. ``OSError`` when it has none."""
Connect = Callable[[str, str, float], socket.socket]
"""An encrypted connection to a host at an address, within so many seconds."""


def checked_address(address: str) -> str:
    """The address as it will be asked. ``BadCalendar`` unless it is plain HTTPS with a host and nothing secret in it.

    Calendar programs show ``webcal`` for the same thing, so that is taken as well.
    """
    try:
        parts = urlsplit(address.strip())
        port = parts.port
        host = (parts.hostname or "").encode("idna").decode()
    except ValueError as error:
        raise BadCalendar("This is not an address.", remedy="Copy it again, whole.") from error
    if parts.scheme not in ("https", "webcal", "webcals"):
        raise BadCalendar(
            "Only an encrypted address can be followed.",
            remedy="Give one that begins with https:// or webcal://.",
        )
    if not host or ":" in host or parts.username is not None or port not in (None, _PORT):
        raise BadCalendar(
            "This address cannot be followed.",
            remedy="Give one without a user name, a password or a port in it.",
        )
    asked = SplitResult("https", host, parts.path or "/", parts.query, "").geturl()
    if len(asked) > LONGEST_ADDRESS or not asked.isascii() or not asked.isprintable() or " " in asked:
        raise BadCalendar("This address is too long or has odd characters.", remedy="Copy it again, whole.")
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


def fetch_calendar(
    address: str, *, look_up: LookUp = look_up, connect: Connect = connect_securely, seconds: float = SECONDS
) -> bytes:
    """What stands at the address. ``BadCalendar`` says, in words for the member, why it cannot be had."""
    ends = monotonic() + seconds
    for _ in range(MOST_REDIRECTS + 1):
        # Whoever has used the time up is still asked, and cut off at once: then it says so.
        told = _ask(checked_address(address), look_up, connect, max(_LEAST_SECONDS, ends - monotonic()))
        if isinstance(told, bytes):
            return told
        address = told
    raise BadCalendar("This address leads from one to the next.", remedy="Give the last of them.")


def _ask(address: str, look_up: LookUp, connect: Connect, seconds: float) -> bytes | str:
    """The calendar, or the address that it has moved to."""
    host = host_of(address)
    ours = _Pinned(host, _reachable(host, look_up), connect, seconds)
    late = Timer(seconds, ours.cut)
    late.daemon = True
    late.start()
    try:
        with closing(ours):
            parts = urlsplit(address)
            target = parts.path + (f"?{parts.query}" if parts.query else "")
            ours.request("GET", target, headers={"Accept": "text/calendar", "User-Agent": "kitchen-planner"})
            told = _answer(address, ours.getresponse())
            if ours.is_cut:
                raise TimeoutError
            return told
    except (OSError, HTTPException, ValueError) as error:
        why = "takes too long to answer" if ours.is_cut else "could not be reached"
        raise BadCalendar(f"{host} {why}.", remedy="It is tried again later.") from error
    finally:
        late.cancel()


def _reachable(host: str, look_up: LookUp) -> str:
    try:
        addresses = look_up(host)
    except OSError as error:
        raise BadCalendar(f"{host} was not found.", remedy="Look at the address again.") from error
    if not addresses or not all(is_public(one) for one in addresses):
        raise BadCalendar(
            f"{host} is not on the open internet.", remedy="Give an address that works from everywhere."
        )
    return addresses[0]


def _answer(address: str, response: HTTPResponse) -> bytes | str:
    if response.status in _REDIRECTS:
        return urljoin(address, response.getheader("Location", ""))
    if response.status != 200:
        raise BadCalendar(
            f"{host_of(address)} answered with {response.status} instead of a calendar.",
            remedy="Look at the address again; it may have been changed or ended.",
        )
    # One byte more than is allowed shows that it is too much.
    held = bytearray()
    while len(held) <= MOST_BYTES and (piece := response.read(min(_CHUNK, MOST_BYTES + 1 - len(held)))):
        held += piece
    if len(held) > MOST_BYTES:
        raise BadCalendar(
            "This calendar is larger than 1 MB.", remedy="Give the address of a smaller calendar."
        )
    if response.length:
        raise HTTPException("the answer broke off")
    return bytes(held)


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
