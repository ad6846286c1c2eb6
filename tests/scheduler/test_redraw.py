"""The rota drawn up around what a lead keeps: the judge passes it with everybody kept, or a refusal says why not."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace
from random import Random

import pytest

from scheduler.digest import day_digest
from scheduler.errors import CannotBeKept, PlanNotOfDay, RotaNotWhole
from scheduler.floor import Floor
from scheduler.interval import Span
from scheduler.judge import judge
from scheduler.plan import Assignment, Plan
from scheduler.planner import plan
from scheduler.problem import Day, Hands, Person, Station, StationKind
from scheduler.redraw import Redrawn, redraw, whole, wishes_of
from scheduler.rota_text import fairness_words
from tests.factories.days import OPENING, PEOPLE, make_day, make_plan
from tests.scheduler.test_random_days import odd_day

DAYS_A_TEST = 5
EVA = Person(id="eva", name="Eva Stone", hours=(OPENING,), trained=True)
DAY = make_day(people=(*PEOPLE, EVA))
PLAN = make_plan(DAY)


def person(person_id: str, **changes: object) -> Day:
    """The small day with one person changed."""
    return replace(
        DAY,
        people=tuple(
            replace(one, **changes) if one.id == person_id else one  # type: ignore[arg-type]
            for one in DAY.people
        ),
    )


def around(*kept: tuple[str, str], day: Day = DAY, before: Plan = PLAN, seconds: float = 0.1) -> Redrawn:
    """The small day's rota around people kept at tasks."""
    keep = [one for task, who in kept for one in whole(before, task, who)]
    return redraw(day, before, keep, seconds=seconds)


def at(planned: Plan, task_id: str) -> list[str]:
    """Who is at a task."""
    return sorted(one.person_id for one in planned.assignments if one.task_id == task_id)


def test_whoever_is_kept_is_there_and_all_but_the_rota_stays() -> None:
    assert at(PLAN, "L2-watch") == ["ada"]
    drawn = around(("L2-watch", "eva"), ("L1-prep", "cleo"))
    assert at(drawn.plan, "L2-watch") == ["eva"]
    assert "cleo" in at(drawn.plan, "L1-prep")
    assert judge(DAY, drawn.plan) == ()
    same = replace(drawn.plan, assignments=PLAN.assignments, provenance=PLAN.provenance)
    assert same == PLAN
    assert {one.task_id for one in drawn.kept} == {"L2-watch", "L1-prep"}


def test_whoever_is_put_in_another_place_takes_that_one_and_not_the_one_beside_it() -> None:
    goes = whole(PLAN, "L1-fill", "ben")
    drawn = redraw(DAY, PLAN, whole(PLAN, "L1-fill", "eva"), instead_of=goes, seconds=0)
    assert at(PLAN, "L1-fill") == ["ben", "dina"]
    assert at(drawn.plan, "L1-fill") == ["dina", "eva"]


def test_work_that_nobody_had_is_filled_and_told() -> None:
    before = replace(PLAN, assignments=tuple(one for one in PLAN.assignments if one.task_id != "L2-kettle"))
    drawn = around(before=before)
    assert drawn.unfilled_before == 25
    assert len(at(drawn.plan, "L2-kettle")) == 1
    assert "min, with 25 min that nobody had." in fairness_words(drawn)[0]


def test_with_nothing_to_gain_nobody_is_moved() -> None:
    fair = around(seconds=0.3).plan
    again = redraw(DAY, fair, whole(fair, "L1-watch", at(fair, "L1-watch")[0]), seconds=0.3)
    assert again.plan.assignments == fair.assignments
    assert again.changed_minutes == 0


def test_work_is_shared_more_evenly_than_before_and_never_beyond_what_is_proven() -> None:
    drawn = around()
    assert drawn.measured.spread_minutes < drawn.spread_before
    assert drawn.measured.spread_bound <= drawn.measured.spread_minutes
    # Kept at both canners, one person has more of it: the bound counts with that.
    assert (
        around(("L1-watch", "ada"), ("L2-watch", "ada")).measured.spread_bound > drawn.measured.spread_bound
    )


def test_with_few_changes_only_those_are_moved_who_must_be() -> None:
    fair = redraw(DAY, PLAN, whole(PLAN, "L2-watch", "eva"), seconds=0.3)
    few = redraw(DAY, PLAN, whole(PLAN, "L2-watch", "eva"), few_changes=True, seconds=0.3)
    assert few.changed_minutes == 60  # The watch itself.
    assert fair.changed_minutes > few.changed_minutes
    assert fair.measured.spread_minutes < few.measured.spread_minutes


def test_people_go_where_they_like_to_be() -> None:
    day = person("ben", likes=frozenset({StationKind.KETTLE}))
    before = replace(PLAN, day_digest=day_digest(day))
    assert wishes_of(day, before).met_minutes == 0
    drawn = around(day=day, before=before)
    assert at(drawn.plan, "L2-kettle") == ["ben"]
    assert drawn.wishes.met_minutes == 25


def test_whoever_learns_is_kept_beside_the_watch_and_not_instead_of_it() -> None:
    day = person("ben", learning=True)
    drawn = around(("L1-watch", "ben"), day=day)
    assert "ben" in at(drawn.plan, "L1-watch")
    assert {"ada", "eva"} & set(at(drawn.plan, "L1-watch"))
    assert judge(day, drawn.plan) == ()


def test_pieces_of_one_person_that_overlap_are_one() -> None:
    pieces = [
        Assignment(task_id="L1-prep", person_id="cleo", start=a, end=b) for a, b in ((120, 140), (130, 155))
    ]
    drawn = redraw(DAY, PLAN, pieces, seconds=0)
    assert [(one.start, one.end) for one in drawn.kept] == [(120, 155)]
    assert "cleo" in at(drawn.plan, "L1-prep")


def test_work_changes_hands_where_somebody_goes_and_another_comes() -> None:
    hours = {"ben": (Span(120, 140),), "cleo": (Span(140, 600),)}
    day = replace(
        DAY,
        people=tuple(
            replace(
                one,
                hours=hours.get(one.id, one.hours),
                cannot=frozenset({StationKind.PREP}) if one.trained else frozenset(),
            )
            for one in DAY.people
        ),
    )
    drawn = around(day=day)
    assert at(drawn.plan, "L1-prep") == ["ben", "cleo", "dina"]
    assert judge(day, drawn.plan) == ()


def test_nobody_is_sent_to_a_canner_station_that_is_full() -> None:
    free = person("ada", carried_minutes=200)
    assert at(around(("L1-watch", "ada"), day=free).plan, "L2-watch") == ["eva"]
    # With room for one, the two watches that overlap stay with one person, however fair it were to share.
    room = Station(kind=StationKind.CANNER, hands=(Hands(span=OPENING, count=1),))
    day = replace(free, stations=(*free.stations, room))
    before = replace(PLAN, day_digest=day_digest(day))
    drawn = around(("L1-watch", "ada"), day=day, before=before)
    assert at(drawn.plan, "L2-watch") == ["ada"]
    with pytest.raises(RotaNotWhole, match="Station canner has 1 hands"):
        around(("L1-watch", "ada"), ("L2-watch", "eva"), day=day, before=before)


def test_somebody_who_goes_home_early_is_replaced() -> None:
    day = person("ada", hours=(Span(120, 150),))
    drawn = around(day=day)
    assert at(drawn.plan, "L1-watch") == at(drawn.plan, "L2-watch") == ["eva"]
    assert judge(day, drawn.plan) == ()


@pytest.mark.parametrize(
    ("changes", "kept", "told"),
    [
        ({}, [("L1-watch", "ben")], "Ben Ruiz cannot be kept at watch for load 1 of Old Grey.*not trained"),
        ({}, [("L2-kettle", "dina")], "Dina Holt cannot be kept at kettle.*not for people under 16"),
        (
            {"cannot": frozenset({StationKind.PREP})},
            [("L1-prep", "ben")],
            "Ben Ruiz cannot be kept at prep.*cannot work at prep",
        ),
        ({"hours": (Span(300, 600),)}, [("L1-prep", "ben")], "Ben Ruiz is not there for all of prep"),
        (
            {},
            [("L1-watch", "ada"), ("L1-watch", "eva")],
            "2 people would be kept at watch for load 1 of Old Grey.*takes 1",
        ),
        ({}, [("L2-kettle", "ben"), ("L1-fill", "ben")], "Ben Ruiz cannot be kept in two places at once"),
        ({}, [("L1-prep", "nobody")], "'nobody', who would be kept at task L1-prep, is not among the people"),
        ({"most_minutes": 30}, [("L1-prep", "ben")], "What is kept for Ben Ruiz is too much: 35 minutes"),
    ],
)
def test_what_breaks_a_rule_is_refused_by_name(
    changes: dict[str, object], kept: Sequence[tuple[str, str]], told: str
) -> None:
    with pytest.raises(CannotBeKept, match=told) as refused:
        around(*kept, day=person("ben", **changes))
    assert refused.value.remedy


def test_whoever_comes_with_somebody_is_not_kept_longer() -> None:
    day = person("dina", hours=(Span(120, 200),), comes_with=None)
    together = replace(
        day, people=tuple(replace(one, comes_with="dina") if one.id == "ben" else one for one in day.people)
    )
    with pytest.raises(CannotBeKept, match="Ben Ruiz comes and goes with Dina Holt, who is not there"):
        around(("L2-fill", "ben"), day=together)


def test_too_many_canners_for_one_person_are_refused() -> None:
    day = replace(DAY, policy=replace(DAY.policy, canners_per_person=1))
    with pytest.raises(CannotBeKept, match=r"Ada Brook would watch 2 canners at 09:.*the kitchen allows 1"):
        around(("L1-watch", "ada"), ("L2-watch", "ada"), day=day)
    apart = around(("L1-watch", "ada"), day=day)
    assert at(apart.plan, "L2-watch") == ["eva"]


def test_work_without_rest_is_refused() -> None:
    day = replace(DAY, policy=replace(DAY.policy, break_every_minutes=60))
    with pytest.raises(CannotBeKept, match=r"Ben Ruiz is too much: .* minutes of work without 15 minutes"):
        around(("L1-prep", "ben"), ("L2-prep", "ben"), ("L2-kettle", "ben"), day=day)


def test_work_that_nobody_is_left_for_is_named_with_its_time() -> None:
    day = replace(DAY, people=tuple(one for one in DAY.people if one.id in ("ada", "ben", "cleo")))
    # Ben alone may cook while Ada watches and Cleo cannot: kept at filling, nobody is left at the kettle.
    alone = replace(
        day,
        people=tuple(
            replace(one, cannot=frozenset({StationKind.KETTLE})) if one.id != "ben" else one
            for one in day.people
        ),
    )
    with pytest.raises(RotaNotWhole, match=r"Nobody was found for kettle for load 1 of Big Blue, 08:50"):
        around(("L1-fill", "ben"), day=alone)


def test_a_plan_that_does_not_fit_the_day_is_refused() -> None:
    later = replace(DAY, batches=tuple(replace(one, jars=one.jars + 1) for one in DAY.batches))
    with pytest.raises(PlanNotOfDay, match="does not fit this day any more"):
        around(day=later)
    with pytest.raises(PlanNotOfDay, match="under way"):
        around(day=replace(DAY, floor=Floor(now=130)))
    with pytest.raises(CannotBeKept, match="no task 'L9-fill'"):
        around(("L9-fill", "ada"))


@pytest.mark.parametrize("first", range(0, 20, DAYS_A_TEST))
def test_on_made_up_days_everybody_is_kept_or_a_refusal_says_why_not(first: int) -> None:
    drawn_up = 0
    for seed in range(first, first + DAYS_A_TEST):
        day = odd_day(seed)
        before = plan(day, seconds=0.02, seed=seed, clock=lambda: 0.0)
        random = Random(f"kept {seed}")  # noqa: S311 - repeatable pieces of work, not secrets.
        for count in range(4 if before.tasks else 0):
            keep = [anything(day, before, random) for _ in range(count)]
            drawn = tried(day, before, keep, seed)
            if drawn is None:
                assert keep, seed  # With nothing kept, the plan's own rota is one.
                continue
            drawn_up += 1
            assert judge(day, drawn.plan) == (), (seed, count)
            assert all(holds(drawn.plan, one) for one in keep), (seed, count)
            assert (drawn.plan.loads, drawn.plan.tasks) == (before.loads, before.tasks)
            assert drawn.measured.unfilled_minutes == 0
            assert drawn.measured.spread_bound <= drawn.measured.spread_minutes + 1e-9
    assert drawn_up > DAYS_A_TEST


def tried(day: Day, before: Plan, keep: Sequence[Assignment], seed: int) -> Redrawn | None:
    """The rota around what is kept, None where that is refused."""
    try:
        return redraw(day, before, keep, seconds=0.1, seed=seed)
    except (CannotBeKept, RotaNotWhole):
        return None


def anything(day: Day, before: Plan, random: Random) -> Assignment:
    """Somebody at some task, half the time one whom the plan has there."""
    task = random.choice(before.tasks)
    there = [one for one in before.assignments if one.task_id == task.id]
    if there and random.random() < 0.5:
        return random.choice(there)
    return Assignment(task_id=task.id, person_id=random.choice(day.people).id, start=task.start, end=task.end)


def holds(planned: Plan, kept: Assignment) -> bool:
    """True when a person is at a task for all the time kept."""
    mine = [
        one for one in planned.assignments if (one.task_id, one.person_id) == (kept.task_id, kept.person_id)
    ]
    return all(any(one.start <= minute < one.end for one in mine) for minute in range(kept.start, kept.end))
