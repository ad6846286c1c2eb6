"""What the season takes from the planner: its caution."""

from __future__ import annotations

from scheduler.caution import CAUTION

__all__ = ["CAUTION"]
