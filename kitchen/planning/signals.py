"""What the rota, which stands above planning, is told in the transaction of a change; a refusal there undoes it."""

from __future__ import annotations

from django.dispatch import Signal

plan_published = Signal()
"""``day``, ``shifts_before`` as they stood and were not over, ``replaces`` a plan published before, ``at``."""

day_closed = Signal()
"""``day``, ``actor`` and ``at``."""
