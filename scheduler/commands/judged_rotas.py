"""``python -m scheduler bench judged --rotas N``: rotas of made-up days, each held to the rules about people."""

from __future__ import annotations

import time
from collections import Counter
from collections.abc import Callable
from itertools import count
from typing import TextIO

from scheduler.commands.judge import violations_text
from scheduler.every_feature import every_feature_day
from scheduler.plan import Plan
from scheduler.problem import Day
from scheduler.random_rotas import JudgedRota, random_rota

ROTAS_A_DAY = 20

Drawer = Callable[[Day, Plan, int], JudgedRota]


def judge_rotas(
    rotas: int,
    first: int,
    effort_seconds: float,
    out: TextIO,
    err: TextIO,
    *,
    planner: Callable[[Day, float, int], Plan],
    drawer: Drawer = random_rota,
) -> bool:
    """Draw up and judge so many rotas; True without fault. Days of which nothing could be planned serve for none."""
    begun = time.monotonic()
    counts: Counter[str] = Counter()
    for seed in count(first):
        day = every_feature_day(seed)
        planned = planner(day, effort_seconds, seed)
        if not planned.loads:
            continue
        counts["days"] += 1
        for number in range(min(ROTAS_A_DAY, rotas - counts["rotas"])):
            counts += _told(
                drawer(day, planned, seed * ROTAS_A_DAY + number), f"seed {seed}, rota {number}", err
            )
        if counts["rotas"] >= rotas:
            break
    out.write(
        f"{counts['rotas']} rotas of {counts['days']} days in {time.monotonic() - begun:.0f} s: {counts['filled']} of "
        f"{counts['seats']} seats filled, {counts['loads']} loads with all their people, {counts['work']} pieces of "
        f"work; somebody missing in {counts['short']}, somebody put somewhere in {counts['pinned']}\n"
        f"{counts['violations']} violations in {counts['faulty']} rotas\n"
    )
    return not counts["violations"]


def _told(rota: JudgedRota, what: str, err: TextIO) -> Counter[str]:
    if rota.violations:
        err.write(f"{what}:\n{violations_text(rota.violations)}")
    return Counter(
        {
            "rotas": 1,
            "seats": rota.seats,
            "filled": rota.filled,
            "loads": len(rota.plan.loads),
            "work": len(rota.plan.assignments),
            "short": int(rota.missing > 0),
            "pinned": int(rota.pins > 0),
            "violations": len(rota.violations),
            "faulty": int(bool(rota.violations)),
        }
    )
