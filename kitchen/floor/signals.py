"""What apps above the run sheet are told in the transaction of a press; a refusal there undoes it."""

from __future__ import annotations

from django.dispatch import Signal

process_began = Signal()
"""``load``, at pressure or boil by a new or a corrected line of its record, ``actor`` and ``at``."""

process_taken_back = Signal()
"""``load``, whose line that it was at pressure or boil was written by mistake, ``actor`` and ``at``."""
