"""What apps above the equipment are told in the transaction of a change; a refusal there undoes it."""

from __future__ import annotations

from django.dispatch import Signal

gauge_checked = Signal()
"""``check``, a gauge check just recorded, ``actor`` and ``at``."""

canner_changed = Signal()
"""``canner``, of which something that a process rests on may have changed, its gauge too; ``actor`` and ``at``."""
