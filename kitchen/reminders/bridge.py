"""What reminders take from the planner: its caution and its way of saying a time."""

from __future__ import annotations

from scheduler.agenda import moment
from scheduler.caution import CAUTION

__all__ = ["CAUTION", "moment"]
