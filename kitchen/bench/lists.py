"""How long the API's lists take, beside an operation of the API that does nothing else, in the same run."""

from __future__ import annotations

from collections.abc import Callable, Iterator
from dataclasses import dataclass

from django.db import transaction
from django.test import Client
from django.urls import reverse

from kitchen.api.actions import make_token
from kitchen.api.base.paging import Pages
from kitchen.api.models import Scope
from kitchen.bench.measuring import percentile
from kitchen.bench.urls import BARE
from kitchen.configuration.memory import set_aside_what_stays
from kitchen.errors import BadConfiguration
from kitchen.members.models import Kitchen
from kitchen.members.queries import leads_of

NOBODY = "/healthz"
LISTS = (
    *(
        "members",
        "batches",
        "days",
        "loads",
        "slots",
        "waiting",
        "portions",
        "shifts",
        "hours",
        "swap-offers",
    ),
    *("canners", "notices", "feeds", "audit", "hooks", "hook-messages"),
)
SIZES = (Pages.page_size, Pages.max_page_size)
"""How many rows clients get that do not ask for a number, and the most that they may ask for."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Measured:
    """A list by its name, how many rows its first page tells, and milliseconds of each reading.

    ``bare_ms`` are those of the bare operation, read in turn with it.
    """

    name: str
    rows: int
    ms: tuple[float, ...]
    bare_ms: tuple[float, ...]

    @property
    def ratio(self) -> float:
        """How many times as long as the bare operation: the 95th percentile of each."""
        return percentile(self.ms, 95) / percentile(self.bare_ms, 95)


def measure(kitchen: Kitchen, rounds: int, clock: Callable[[], float]) -> Iterator[tuple[Measured, ...]]:
    """Each list as the kitchen's lead reads it with a token, at each of ``SIZES``; last the page that knows nobody.

    ``clock`` counts seconds. The bare operation has what every operation has: the token is looked up, the request
    counted, the kitchen and the person's role in it found, their right to it weighed, and a small answer written. It is
    read in turn with each list, because a busy machine then slows both alike. What is written for it is taken back.
    What the program loaded is put aside first, as the web server does at its start. ``BadConfiguration`` for a list
    that does not answer. Needs the addresses of ``kitchen.bench.urls``.
    """
    set_aside_what_stays()
    with transaction.atomic():
        lead = leads_of(kitchen)[0].user
        made = make_token(user=lead, kitchen=kitchen, name="Bench", scopes=[Scope.EVERYTHING])
        client = Client(headers={"Authorization": f"Bearer {made.secret}"})
        bare = reverse(BARE, kwargs={"kitchen": kitchen.uuid})
        for name in LISTS:
            address = f"/api/v1/kitchens/{kitchen.uuid}/{name}?page_size="
            yield tuple(_measured(client, name, f"{address}{size}", bare, rounds, clock) for size in SIZES)
        yield (_measured(client, NOBODY, NOBODY, bare, rounds, clock),)
        transaction.set_rollback(True)


def _measured(
    client: Client, name: str, address: str, bare: str, rounds: int, clock: Callable[[], float]
) -> Measured:
    def milliseconds(of: str) -> float:
        began = clock()
        client.get(of)
        return (clock() - began) * 1000

    answer = client.get(address)
    if {answer.status_code, client.get(bare).status_code} != {200}:
        raise BadConfiguration(
            f"{address} answers {answer.status_code} to a lead.",
            remedy="The list in kitchen/bench/lists.py no longer fits the API.",
        )
    rows = 0 if address == NOBODY else len(answer.json()["results"])
    own, beside = [], []
    for _ in range(rounds):
        own.append(milliseconds(address))
        beside.append(milliseconds(bare))
    return Measured(name=name, rows=rows, ms=tuple(own), bare_ms=tuple(beside))
