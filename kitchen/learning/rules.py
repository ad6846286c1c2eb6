"""What may be noted as a measured time."""

from __future__ import annotations

from kitchen.batches.models import Batch
from kitchen.errors import BadSetting
from kitchen.learning.models import WORK_KINDS, TimedKind

# Guards against slips of typing, not figures of the trade.
MOST_HANDS = 20
MOST_WORK_MINUTES = 600


def check_work(batch: Batch, kind: TimedKind, jars: int, hands: int, minutes: float) -> None:
    """Refuse work that is not timed by hand, more jars than the batch has, or a time beyond belief."""
    if kind not in WORK_KINDS:
        raise BadSetting(
            f"{kind.label} is read off the process record.", remedy="Time prep, a kettle or filling here."
        )
    if not 1 <= jars <= batch.jars:
        raise BadSetting(
            f"{jars} jars cannot be of a batch of {batch.jars}.", remedy="Count the jars that were timed."
        )
    if not 1 <= hands <= MOST_HANDS:
        raise BadSetting(
            f"{hands} people cannot have done it.", remedy=f"Give how many worked, 1 to {MOST_HANDS}."
        )
    if not 1 <= minutes <= MOST_WORK_MINUTES:
        raise BadSetting(
            f"{minutes:g} minutes are no time for this.",
            remedy=f"Give the minutes it took, 1 to {MOST_WORK_MINUTES}.",
        )
