"""Every operation of the schema, each with an address and a body that it takes in a furnished kitchen."""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from dataclasses import dataclass
from datetime import timedelta
from functools import cache
from typing import Any
from uuid import uuid4

from django.http import HttpResponse
from django.test import Client
from django.utils import timezone
from drf_spectacular.generators import SchemaGenerator

from tests.factories.furnished import Furnished

BASE = "/api/v1/"


@dataclass(frozen=True, slots=True)
class Operation:
    """An operation as the schema names it."""

    name: str
    method: str
    path: str

    @property
    def parts(self) -> list[str]:
        """The names in its path."""
        return [part[1:-1] for part in self.path.split("/") if part.startswith("{")]


@cache
def schema() -> dict[str, Any]:
    """The whole schema."""
    made: dict[str, Any] = SchemaGenerator().get_schema(request=None, public=True)  # type: ignore[no-untyped-call]
    return made


def operations() -> Iterator[Operation]:
    """All of them."""
    for path, methods in schema()["paths"].items():
        for method, told in methods.items():
            yield Operation(told["operationId"], method, path)


TABLE = "food,amount,unit,jar,pack\nsnap_beans,9,jars,pint,raw\n"
# What differs from the ids of ``Furnished.named`` for one operation.
ELSEWHERE = {
    "swap_offers_make": {"shift": "my_shift"},
    "shifts_give_back": {"shift": "my_shift"},
    "shifts_hand_over": {"shift": "my_shift"},
}
QUERIES = {
    "processes_find": "?food=snap_beans&pack=raw&jar=pint&gauge=weighted&altitude_ft=2450",
    "batches_estimate": "?food=snap_beans&pack=raw&jar=pint&amount=20&unit=pounds",
    "labels_of_batch": "?sheet=a4-14",
    "labels_of_portion": "?sheet=a4-14",
    "times_search": "?food=snap_beans&pack=raw&jar=quart&jars=7",
}


def body(name: str, at: Furnished) -> dict[str, Any]:
    """What is sent to an operation, for a person of this kitchen."""
    day, run = at.day, at.run
    what = {"food": "snap_beans", "pack": "raw", "jar": "quart"}
    given: dict[str, dict[str, Any]] = {
        "kitchens_policy": {"jar_fee": "50 cents a jar"},
        "batches_declare": {
            **what,
            "amount": "7",
            "unit": "jars",
            "arrives_at": day.opens_at,
            "picks_up_at": day.closes_at,
            "day": at.named["day"],
        },
        "batches_check_table": {"day": at.named["day"], "table": TABLE},
        "batches_bring_table": {"day": at.named["day"], "table": TABLE},
        "opening_hours_set": {"hours": [{"opens": "07:30", "closes": "20:30"}]},
        "burners_add": {"name": "Burner 9", "power_w": 3500, "efficiency": 0.5},
        "kettles_add": {"name": "Kettle 9", "volume_qt": 24},
        "cooling_tables_add": {"name": "Short table", "area_sq_in": 2000},
        "canners_add": {
            "code": "W9",
            "name": "Canner 9",
            "kind": "weighted",
            "burner": at.named["burner"],
            "inside_diameter_in": 12.5,
            "inside_depth_in": 12.5,
        },
        "wishes_set": {
            "likes": ["prep"],
            "cannot": ["fill"],
            "most_minutes": 240,
            "comes_with": None,
            "learning": False,
        },
        "waiting_begin": {**what, "jars": 7, "day": timezone.now().date() - timedelta(days=2)},
        "records_sign": {"digest": "0" * 64},
        "records_review": {"digest": "0" * 64, "outcome": "reviewed"},
        "portions_book_again": {"way": "time|none"},
        "batches_change": {"jars": 6},
        "batches_arrival": {"jars": 6},
        "days_open": {
            "date": (day.date.replace(year=day.date.year + 1)),
            "opens_at": day.opens_at.replace(year=day.date.year + 1),
            "closes_at": day.closes_at.replace(year=day.date.year + 1),
        },
        "days_hours": {"opens_at": day.opens_at, "closes_at": day.closes_at},
        "plan_jobs_start": {"seconds_limit": 1},
        "loads_press": {"kind": "loaded", "seen": 0, "at": run.site.at(13, 5)},
        "loads_decide": {"outcome": "released", "reason": "A slip of the pen."},
        "lines_correct": {"at": run.at(111), "note": "A minute before."},
        "lines_withdraw": {"note": "It did not happen."},
        "holds_create": {
            **what,
            "jars": 7,
            "canner": str(at.site.weighted.uuid),
            "arrives_at": at.hold.arrives_at,
            "starts_at": at.hold.canner_time.starts_at,
            "ends_at": at.hold.canner_time.ends_at,
        },
        "slots_book": {"hold": at.named["hold"], "watcher": str(at.site.operator.uuid)},
        "portions_count": {"sealed": 7, "unsealed": 0, "broken": 0},
        "shifts_hand_over": {"to": str(at.site.other.uuid)},
        "shifts_want": {
            "station": "prep",
            "starts_at": day.opens_at,
            "ends_at": day.opens_at + timedelta(hours=1),
        },
        "hours_give": {"starts_at": day.opens_at, "ends_at": day.closes_at},
        "swap_offers_make": {"to": at.named["member"]},
        "canners_change": {"own_counts": {"pint": 9}, "layers": 1},
        "canners_check_gauge": {
            "checked_on": timezone.now().astimezone(at.site.kitchen.zone).date(),
            "error_psi": "0.5",
            "checked_by": "Extension office",
        },
        "canners_withdraw": {"reason": "The gasket leaks."},
        "hooks_add": {"address": "https://wall.example/another"},
        "feeds_make": {"kind": "canner", "canner": at.named["canner"]},
    }
    return given.get(name, {})


def address(one: Operation, at: Furnished, **others: str) -> str:
    """Its address in this kitchen; ``others`` stand for parts of it."""
    renamed = ELSEWHERE.get(one.name, {})
    parts = {part: others.get(part, at.named[renamed.get(part, part)]) for part in one.parts}
    return one.path.format(**parts)


def send(
    client: Client,
    one: Operation,
    at: Furnished,
    *,
    to: str = "",
    query: str | None = None,
    given: Mapping[str, Any] | None = None,
    version: str = "*",
    key: str = "",
) -> HttpResponse:
    """Send it as it should be, but for what is told."""
    where = (to or address(one, at)) + (QUERIES.get(one.name, "") if query is None else query)
    sent = body(one.name, at) if given is None else given
    headers = {"Idempotency-Key": key or str(uuid4()), "If-Match": version}
    if one.method == "get":
        return client.get(where)  # type: ignore[return-value]  # The test client's own kind of response.
    answer = getattr(client, one.method)(where, data=sent, content_type="application/json", headers=headers)
    if answer.streaming:
        b"".join(answer.streaming_content)  # Read to its end, and so closed.
    return answer  # type: ignore[no-any-return]
