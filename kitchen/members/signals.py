"""What apps above are told in the transaction of a change; a refusal there undoes it."""

from __future__ import annotations

from django.dispatch import Signal

membership_ending = Signal()
"""``membership``, which is about to end and still counts, ``actor`` and ``at``: what somebody holds here is given back
as they would give it back themselves.
"""

site_changed = Signal()
"""``kitchen``, whose altitude or time zone was just corrected, ``actor`` and ``at``."""

membership_ended = Signal()
"""``membership``, which has ended, ``actor`` and ``at``."""

password_changed = Signal()
"""``user``, whose password was just replaced by another, and ``at``. Not for a first one."""
