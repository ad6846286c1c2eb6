"""Fetching a calendar from an address that a member gave, and from nowhere else; see ``kitchen.http.outward``."""

from __future__ import annotations

from time import monotonic
from urllib.parse import urljoin

from kitchen.errors import BadAddress, BadCalendar, NoAnswer
from kitchen.helping.reading import MOST_BYTES
from kitchen.http import outward
from kitchen.http.outward import Answer, Connect, LookUp, ask, connect_securely, host_of, look_up

SECONDS = 20.0
"""How long one fetching may take, redirects and all."""
MOST_REDIRECTS = 3
_LEAST_SECONDS = 0.1
_REDIRECTS = frozenset({301, 302, 303, 307, 308})


def checked_address(address: str) -> str:
    """The address as it will be asked; ``BadCalendar`` for one that cannot be.

    Calendar programs show ``webcal`` for the same thing, so that is taken as well.
    """
    try:
        return outward.checked_address(address, schemes=("https", "webcal", "webcals"))
    except BadAddress as error:
        raise BadCalendar(error.message, remedy=error.remedy) from error


def fetch_calendar(
    address: str, *, look_up: LookUp = look_up, connect: Connect = connect_securely, seconds: float = SECONDS
) -> bytes:
    """What stands at the address. ``BadCalendar`` says, in words for the member, why it cannot be had."""
    ends = monotonic() + seconds
    for _ in range(MOST_REDIRECTS + 1):
        asked = checked_address(address)
        try:
            # Whoever has used the time up is still asked, and cut off at once: then it says so.
            answer = ask(
                "GET",
                asked,
                seconds=max(_LEAST_SECONDS, ends - monotonic()),
                most_bytes=MOST_BYTES,
                headers={"Accept": "text/calendar"},
                look_up=look_up,
                connect=connect,
            )
        except (BadAddress, NoAnswer) as error:
            raise BadCalendar(error.message, remedy=error.remedy) from error
        if answer.status not in _REDIRECTS:
            return _calendar(asked, answer)
        address = urljoin(asked, answer.location)
    raise BadCalendar("This address leads from one to the next.", remedy="Give the last of them.")


def _calendar(address: str, answer: Answer) -> bytes:
    if answer.status != 200:
        raise BadCalendar(
            f"{host_of(address)} answered with {answer.status} instead of a calendar.",
            remedy="Look at the address again; it may have been changed or ended.",
        )
    if len(answer.body) > MOST_BYTES:
        raise BadCalendar(
            "This calendar is larger than 1 MB.", remedy="Give the address of a smaller calendar."
        )
    return answer.body
