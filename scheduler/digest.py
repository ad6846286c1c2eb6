"""A short name for a day's question, so that an answer can say which question it answers."""

from __future__ import annotations

import hashlib
import json
from dataclasses import replace
from datetime import UTC
from functools import cache

from pydantic import TypeAdapter

from scheduler.problem import Day


def day_digest(day: Day) -> str:
    """SHA-256, in hex, of the day as canonical JSON.

    Keys and the confirmed processes are sorted, the origin is written in UTC, and 2500 is the same as 2500.0:
    equal days have equal digests, in every process and on every machine. The order of batches, canners and
    people counts, for a planner may go by it. A pace of 1 is left away: to have learned nothing is the same
    question as before there was anything to learn; so is what a rota may know of a person, where nothing is said.
    """
    dumped = _adapter().dump_python(replace(day, origin=day.origin.astimezone(UTC)), mode="json")
    if day.floor is None:
        del dumped["floor"]  # A day that has not begun is named as it was before days could be under way.
    dumped["policy"]["confirmed_processes"] = sorted(day.policy.confirmed_processes)
    for canner in dumped["canners"]:
        canner["pace"] = {phase: pace for phase, pace in canner["pace"].items() if pace != 1}
    for table, key in ((dumped["policy"], "fill_pace"), *((canner, "pace") for canner in dumped["canners"])):
        if table[key] in (1, {}):
            del table[key]
    for key, usual in _USUAL_POLICY.items():
        if dumped["policy"][key] == usual:
            del dumped["policy"][key]
    for person in dumped["people"]:
        for key in _UNSAID:
            person[key] = sorted(person[key]) if isinstance(person[key], list) else person[key]
            if not person[key]:
                del person[key]
    canonical = json.dumps(_plain(dumped), sort_keys=True, separators=(",", ":"), ensure_ascii=True)
    return hashlib.sha256(canonical.encode("ascii")).hexdigest()


_UNSAID = ("learning", "cannot", "likes", "most_minutes", "comes_with", "carried_minutes")
"""Of a person, what is left away where nothing is said of it."""

_USUAL_POLICY: dict[str, int] = {
    "break_minutes": 15,
    "break_every_minutes": 180,
    "meal_minutes": 30,
    "meal_after_minutes": 300,
    "longest_shift_minutes": 720,
    "rest_minutes": 600,
    "walking_minutes": 0,
}
"""The rota's policy as it is left away: these numbers name days and stay, whatever the defaults become."""


@cache
def _adapter() -> TypeAdapter[Day]:
    return TypeAdapter(Day)


def _plain(value: object) -> object:
    """Whole numbers written one way, whether they came as int or as float."""
    if isinstance(value, dict):
        return {key: _plain(one) for key, one in value.items()}
    if isinstance(value, list):
        return [_plain(one) for one in value]
    return int(value) if isinstance(value, float) and value.is_integer() else value
