"""How long a program may take, and how often one is tried. All figures are the program's own."""

from __future__ import annotations

from datetime import timedelta

MOST_HOOKS = 5
"""So many addresses may one kitchen have told."""
ANSWER_SECONDS = 5.0
"""A program has so long to say that it has a message, connection and all."""
LEASE = timedelta(minutes=1)
"""How long a sweep has for one message."""
LONGEST_SWEEP_SECONDS = 20.0
MOST_ANSWER_BYTES = 2_000
"""What a program answers is read no further; only its status counts."""
GONE = 410
"""RFC 9110, 15.5.11: whoever answers so wants to be told nothing more."""
