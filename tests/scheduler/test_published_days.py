"""Days somebody published, planned: what was done in fact must come out feasible."""

from __future__ import annotations

from pathlib import Path

from scheduler.day_file import read_day
from scheduler.judge import judge
from scheduler.planner import plan

DAYS = Path(__file__).parents[2] / "fixtures" / "days"


def test_three_people_and_two_pots_make_105_pints_of_applesauce_in_six_hours() -> None:
    """One home canner's published account: 3 people x 6 h, 12 pecks, 105 pints, two boiling-water canners."""
    day = read_day((DAYS / "applesauce.toml").read_text(encoding="utf-8"))
    assert (sum(batch.jars for batch in day.batches), len(day.people), len(day.canners)) == (105, 3, 2)
    answer = plan(day, seconds=2, seed=1, clock=lambda: 0.0)
    assert judge(day, answer) == ()
    assert answer.left_out == ()
    last_out = next(level for level in answer.levels if level.name == "last jar out")
    # Canner-bound: no day with these two pots could be out a whole load (50 min) sooner, and the pots are why.
    assert last_out.value - last_out.bound < 50
    assert last_out.bound_name == "batch sauce in turn on Left pot, Right pot"
    # 6 to 7 loads a canner, 40 to 50 minutes each (the account's own sum).
    assert {
        canner.id: sum(load.canner_id == canner.id for load in answer.loads) for canner in day.canners
    } == {
        "left-pot": 6,
        "right-pot": 6,
    }
