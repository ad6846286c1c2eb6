"""What apps above are told in the transaction of a change; a refusal there undoes it."""

from __future__ import annotations

from django.dispatch import Signal

membership_ended = Signal()
"""``membership``, which has ended, ``actor`` and ``at``."""
