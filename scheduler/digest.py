"""A fingerprint of a day, which ties a plan to the question it answers."""

from __future__ import annotations

import hashlib
import json

from pydantic import TypeAdapter

from scheduler.problem import Day

_DAY = TypeAdapter(Day)


def day_digest(day: Day) -> str:
    """SHA-256, in hexadecimal, of everything the planner is told. Any change of the day changes it."""
    told = _DAY.dump_python(day, mode="json")
    told["policy"]["confirmed_processes"] = sorted(told["policy"]["confirmed_processes"])
    return hashlib.sha256(json.dumps(told, sort_keys=True, ensure_ascii=True).encode()).hexdigest()
