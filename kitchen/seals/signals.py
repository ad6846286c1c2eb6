"""What apps above the seal checks are told in the transaction of a decision; a refusal there undoes it."""

from __future__ import annotations

from django.dispatch import Signal

jars_discarded = Signal()
"""``load``, whose jars a lead has thrown out, ``actor`` and ``at``."""
