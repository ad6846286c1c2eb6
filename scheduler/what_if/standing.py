"""How each batch fares in a plan."""

from __future__ import annotations

from dataclasses import dataclass

from scheduler.plan import Plan
from scheduler.problem import Day


@dataclass(frozen=True, slots=True, kw_only=True)
class Standing:
    """What a plan does with a batch: jars left out, when the last jar is out (None without any), minutes late."""

    left: int
    out: int | None
    late: int

    @property
    def is_well(self) -> bool:
        """True when every jar is out in time."""
        return not self.left and not self.late


def standings(day: Day, planned: Plan) -> dict[str, Standing]:
    """What a plan does with each batch of the day."""
    left = {one.batch_id: one.jars for one in planned.left_out}
    out: dict[str, int] = {}
    for load in planned.loads:
        for portion in load.portions:
            out[portion.batch_id] = max(load.jars_out, out.get(portion.batch_id, load.jars_out))
    return {
        batch.id: Standing(
            left=left.get(batch.id, 0),
            out=out.get(batch.id),
            late=max(0, out.get(batch.id, batch.pickup) - batch.pickup),
        )
        for batch in day.batches
    }
