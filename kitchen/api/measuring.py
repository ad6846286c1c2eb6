"""How long the API's lists take, beside a view that does nothing, in the same run."""

from __future__ import annotations

from collections.abc import Callable, Iterator
from dataclasses import dataclass
from statistics import quantiles

from django.db import transaction
from django.test import Client

from kitchen.api.actions import make_token
from kitchen.api.models import Scope
from kitchen.members.models import Kitchen
from kitchen.members.queries import leads_of

BARE = "/healthz"
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


@dataclass(frozen=True, slots=True, kw_only=True)
class Measured:
    """An address, how many rows its first page tells, and in milliseconds what half and 95 of 100 requests took."""

    address: str
    rows: int
    half_ms: float
    p95_ms: float


def measure(kitchen: Kitchen, rounds: int, clock: Callable[[], float]) -> Iterator[Measured]:
    """The bare view, then each list as the kitchen's lead reads it, in turns; what is written for it is taken back.

    ``clock`` counts seconds. Turns, because a busy machine then slows all of them alike.
    """
    with transaction.atomic():
        lead = leads_of(kitchen)[0].user
        made = make_token(user=lead, kitchen=kitchen, name="Bench", scopes=[Scope.EVERYTHING])
        client = Client(headers={"Authorization": f"Bearer {made.secret}"})
        lists = [f"/api/v1/kitchens/{kitchen.uuid}/{name}?page_size=200" for name in LISTS]
        addresses = [BARE, *lists]
        rows = {address: len(client.get(address).json()["results"]) for address in lists}
        client.get(BARE)
        took: dict[str, list[float]] = {address: [] for address in addresses}
        for _ in range(rounds):
            for address in addresses:
                began = clock()
                client.get(address)
                took[address].append(clock() - began)
        transaction.set_rollback(True)
    for address in addresses:
        cuts = quantiles(took[address], n=20)
        yield Measured(
            address=address, rows=rows.get(address, 0), half_ms=cuts[9] * 1000, p95_ms=cuts[18] * 1000
        )
