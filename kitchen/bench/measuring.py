"""Reading every page as its readers do, and how long each takes beside a page with nothing on it."""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Mapping
from dataclasses import dataclass
from time import perf_counter

from django.db import connection
from django.test import Client
from django.test.utils import CaptureQueriesContext
from django.urls import reverse

from kitchen.bench.pages import PAGES, Page, Subject
from kitchen.bench.urls import EMPTY
from kitchen.configuration.memory import set_aside_what_stays
from kitchen.errors import BadConfiguration
from kitchen.members.models import Role

HOST = "kitchen.example"
_SHOWN_TYPES = ("text/html", "image/svg+xml")


@dataclass(frozen=True, slots=True, kw_only=True)
class Measured:
    """A page for one reader: its queries, its size in bytes as it goes over the wire, and milliseconds of each reading.

    ``empty_ms`` are those of the kitchen's empty page, read in turn with it. A ``document`` is no page but a file to
    keep or print, or a calendar.
    """

    name: str
    reader: Role
    document: bool
    queries: int
    size: int
    ms: tuple[float, ...]
    empty_ms: tuple[float, ...]

    @property
    def ratio(self) -> float:
        """How many times as long as the empty page: the 95th percentile of each."""
        return percentile(self.ms, 95) / percentile(self.empty_ms, 95)


def percentile(values: Iterable[float], percent: int) -> float:
    """The least of the values that so many of a hundred do not exceed; at least one value."""
    ordered = sorted(values)
    return ordered[-(-len(ordered) * percent // 100) - 1]


def measure(subject: Subject, requests: int) -> Iterator[Measured]:
    """Every page, for everybody who reads it. ``BadConfiguration`` for a page that does not answer.

    What filling the database left behind is put aside first, as the web server puts aside what it loaded at its start.
    """
    set_aside_what_stays()
    clients = {role: _client(subject, role) for role in Role}
    for page in PAGES:
        for role in page.readers:
            yield _measured(page, role, clients[role], subject.values, requests)


def _client(subject: Subject, role: Role) -> Client:
    client = Client(SERVER_NAME=HOST, headers={"accept-encoding": "gzip"})
    client.force_login(subject.readers[role])
    return client


def _measured(
    page: Page, role: Role, client: Client, values: Mapping[str, object], requests: int
) -> Measured:
    address = page.address(values)
    empty = reverse(EMPTY, kwargs={"kitchen": values["kitchen"]})
    client.get(empty)
    client.get(address)  # What is kept from one reading to the next is kept from here on.
    with CaptureQueriesContext(connection) as captured:
        answer = client.get(address)
        queries = len(captured)
    if answer.status_code != 200:
        raise BadConfiguration(
            f"{address} answers {answer.status_code} to the {role.label.lower()}.",
            remedy="The table in kitchen/bench/pages.py no longer fits the page.",
        )
    own, beside = [], []
    for _ in range(requests):
        own.append(_milliseconds(client, address))
        beside.append(_milliseconds(client, empty))
    return Measured(
        name=page.name + (" of a day that is over" if "day=past" in page.values else ""),
        reader=role,
        document=answer.headers["Content-Type"].partition(";")[0] not in _SHOWN_TYPES,
        queries=queries,
        size=len(answer.content),
        ms=tuple(own),
        empty_ms=tuple(beside),
    )


def _milliseconds(client: Client, address: str) -> float:
    began = perf_counter()
    client.get(address)
    return (perf_counter() - began) * 1000
