"""``drill race``: many processes book the same canners at once."""

from __future__ import annotations

import json
from collections import Counter
from collections.abc import Iterable, Mapping
from datetime import datetime
from itertools import pairwise
from time import monotonic, sleep

from django.db import connection
from django.utils import timezone

from kitchen.batches.models import Slot, SlotState
from kitchen.bench.processes import Place, end_group, start
from kitchen.bench.sites import Site, make_site
from kitchen.drill.report import Drill, Report, Sizes
from kitchen.equipment.models import Canner, CannerTime

_TOLD_AT_MOST = 5
Span = tuple[datetime, datetime]


def run(sizes: Sizes, place: Place, report: Report) -> None:
    """Eight canners, two of them on one burner, which the racers may book for a week."""
    site = make_site(0, members=20, today=timezone.now().date())
    sharing = site.canners[0]
    sharing.burner = site.canners[1].burner
    sharing.save(update_fields=["burner"])
    words = [
        *("-m", "kitchen.drill.racers", "--kitchen", site.kitchen.slug, "--folder", str(place.folder)),
        *("--processes", str(sizes["processes"]), "--attempts", str(sizes["attempts"])),
    ]
    began, looks = monotonic(), 0
    process = start(place.environment(), *words)
    try:
        overlapping = 0
        while process.poll() is None:
            overlapping += overlaps(site)
            looks += 1
            sleep(0.2)  # The racers race meanwhile.
    finally:
        end_group(process)
    overlapping += overlaps(site)
    report.promise("no racer ended in an error", kept=process.returncode == 0)
    told = [
        one for file in place.folder.glob("racer-*") for one in json.loads(file.read_text(encoding="utf-8"))
    ]
    _judge(
        site, told, sizes, report, f"{monotonic() - began:.0f} s, looked at {looks + 1} times", overlapping
    )


def overlaps(site: Site) -> int:
    """How many standing bookings share an instant with another on their burner, reckoned without the database."""
    spans: dict[int, list[Span]] = {}
    standing = CannerTime.objects.filter(kitchen=site.kitchen, occupies=True)
    for burner, *span in standing.values_list("canner__burner_id", "starts_at", "ends_at"):
        spans.setdefault(burner, []).append((span[0], span[1]))
    return sum(before[1] > after[0] for one in spans.values() for before, after in pairwise(sorted(one)))


def _judge(
    site: Site, told: list[Mapping[str, str]], sizes: Sizes, report: Report, how: str, overlapping: int
) -> None:
    ended = Counter(one["ended"] for one in told)
    report.figure(
        f"{connection.vendor}: {len(told)} attempts from {sizes['processes']} processes in {how}: "
        f"{ended['booked']} booked, {ended['taken']} told what was in the way, {ended['failed']} failed"
    )
    for one in [one for one in told if one["ended"] == "failed"][:_TOLD_AT_MOST]:
        report.figure(f"  failed: {one['told']}")
    report.promise("every attempt was answered", kept=len(told) == sizes["attempts"])
    report.promise("nothing failed", kept=ended["failed"] == 0)
    report.promise("no two bookings overlap on a canner or burner, at any look", kept=overlapping == 0)
    booked = Slot.objects.filter(kitchen=site.kitchen)
    standing = CannerTime.objects.filter(kitchen=site.kitchen, occupies=True).count()
    report.promise(
        "what stands is what was booked and not given back",
        kept=booked.count() == ended["booked"] and booked.filter(state=SlotState.BOOKED).count() == standing,
    )
    not_told = list(untold(site, [one for one in told if one["ended"] == "taken"]))
    for line in not_told[:_TOLD_AT_MOST]:
        report.figure(f"  not told: {line}")
    report.promise("every loser was told which time stood in the way", kept=not not_told)
    report.promise(
        "there were winners and losers, so the drill can tell", kept=min(ended["booked"], ended["taken"]) > 0
    )


def untold(site: Site, losers: Iterable[Mapping[str, object]]) -> Iterable[str]:
    """Losers who were told no time, or one that was never booked there or was not in the way."""
    burners = dict(Canner.objects.filter(kitchen=site.kitchen).values_list("pk", "burner_id"))
    times = CannerTime.objects.filter(kitchen=site.kitchen)
    known = set(times.values_list("canner__burner_id", "starts_at", "ends_at"))
    for one in losers:
        assert isinstance(one["canner"], int)  # noqa: S101  (for the type alone)
        assert isinstance(one["clashes"], list)  # noqa: S101 - for the types
        wanted = datetime.fromisoformat(str(one["from"])), datetime.fromisoformat(str(one["to"]))
        clashes = [
            (datetime.fromisoformat(start), datetime.fromisoformat(end)) for start, end in one["clashes"]
        ]
        in_the_way = [start < wanted[1] and end > wanted[0] for start, end in clashes]
        real = [(burners[one["canner"]], *clash) in known for clash in clashes]
        if not clashes or not all(in_the_way) or not all(real):
            yield str(one["told"])


RACE = Drill(
    name="race",
    about="Many processes book the same canners at once, and give some of it back.",
    sizes={"attempts": 20_000, "processes": 8},
    on_sqlite={"attempts": 5_000},
    minutes=20,
    run=run,
)
