"""Addresses of servers, as they are written in one environment variable."""

from __future__ import annotations

from dataclasses import dataclass
from urllib.parse import SplitResult, parse_qsl, unquote, urlsplit

from kitchen.errors import BadConfiguration


@dataclass(frozen=True, slots=True, kw_only=True)
class Address:
    """A server's address in its parts. Empty parts are empty strings; a missing port is none."""

    scheme: str
    user: str
    password: str
    host: str
    port: int | None
    path: str
    options: dict[str, str]


def read_address(
    text: str, *, variable: str, schemes: frozenset[str], example: str, options: frozenset[str] = frozenset()
) -> Address:
    """The parts of an address.

    An unknown scheme or option, a bad port and a fragment are refused, never ignored.

    The message names the variable but never repeats the address, which may hold a password.
    """
    remedy = f"Write it like {example}; percent-encode special characters in the password."
    try:
        parts = urlsplit(text)
        port = parts.port
        pairs = parse_qsl(parts.query, keep_blank_values=True, strict_parsing=bool(parts.query))
    except ValueError as error:
        raise BadConfiguration(f"{variable} is not an address.", remedy=remedy) from error
    if parts.scheme not in schemes:
        raise BadConfiguration(f"{variable} begins with {parts.scheme or 'no scheme'!r}.", remedy=remedy)
    if parts.fragment:
        raise BadConfiguration(f"{variable} has a part behind '#'.", remedy=remedy)
    found = dict(pairs)
    unknown = sorted(found.keys() - options)
    if unknown or len(found) != len(pairs):
        known = ", ".join(sorted(options)) or "none"
        raise BadConfiguration(
            f"{variable} has unknown or repeated options.", remedy=f"Options it knows: {known}."
        )
    return _address(parts, port, found)


def _address(parts: SplitResult, port: int | None, options: dict[str, str]) -> Address:
    return Address(
        scheme=parts.scheme,
        user=unquote(parts.username or ""),
        password=unquote(parts.password or ""),
        host=parts.hostname or "",
        port=port,
        path=unquote(parts.path),
        options=options,
    )
