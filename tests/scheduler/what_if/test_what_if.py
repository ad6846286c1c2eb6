"""What-if keeps its word: what it offers places the batch, and is the smallest of its kind that does."""

from __future__ import annotations

import io
import time
from dataclasses import replace
from functools import cache
from itertools import count
from pathlib import Path

import pytest

from scheduler.__main__ import main
from scheduler.canner import Canner
from scheduler.commands.bench_what_if import Asked, Tried, ask, over_full_day
from scheduler.day_file import read_day
from scheduler.day_writing import day_toml
from scheduler.interval import Span
from scheduler.plan import Plan
from scheduler.planner import plan
from scheduler.problem import Day
from scheduler.what_if.answer import EVERYTHING_TRIED, Remedy
from scheduler.what_if.ask import what_if
from scheduler.what_if.change import changed, edits_of, words_of
from scheduler.what_if.ladder import LATER_MINUTES, ladder
from scheduler.what_if.of_batch import PickUpLater
from scheduler.what_if.of_kitchen import CloseLater
from scheduler.what_if.standing import standings
from scheduler.what_if.trials import Trials, Usual
from scheduler.what_if_text import what_if_text

DAYS = Path(__file__).parents[3] / "fixtures" / "days"
SEEDS = (1, 2, 3, 5, 6, 7, 9)
EFFORT_SECONDS = 0.5

# All in one process: what was asked once is looked at from many sides.
pytestmark = pytest.mark.xdist_group("what_if")


@cache
def asked(seed: int) -> Asked:
    return ask(seed, limit_seconds=600, effort_seconds=EFFORT_SECONDS)


def replan(day: Day, seed: int) -> Plan:
    return plan(day, seconds=EFFORT_SECONDS, seed=seed, clock=lambda: 0.0)


def usual(seed: int) -> Usual:
    return Usual(seconds=EFFORT_SECONDS, seed=seed)


def trials(found: Asked) -> Trials:
    return Trials(found.day, found.planned, usual=usual(found.seed), must_stop=lambda: False)


@pytest.mark.parametrize("seed", SEEDS)
def test_every_remedy_written_into_the_file_and_planned_again_places_the_batch(seed: int) -> None:
    found = asked(seed)
    assert found.found.stopped_because == EVERYTHING_TRIED
    assert found.found.answers
    assert list(Tried(found, replan).faults()) == []


def test_the_made_up_days_have_remedies_of_many_kinds() -> None:
    remedies = [
        remedy for seed in SEEDS for answer in asked(seed).found.answers for remedy in answer.remedies
    ]
    assert {change.kind for remedy in remedies for change in remedy.changes} >= {"close-later", "another-day"}
    assert {remedy.certain for remedy in remedies} == {True, False}
    assert {remedy.firm for remedy in remedies} == {True, False}


def test_a_remedy_that_does_not_help_is_caught() -> None:
    """A planted answer: the pick-up of a batch without a place is put off, which places nothing."""
    found = asked(1)
    answer = next(one for one in found.found.answers if one.left)
    useless = (PickUpLater(batch_id=answer.batch_id, pickup=found.day.horizon + 30),)
    planted = Remedy(
        changes=useless,
        words=words_of(found.day, useless),
        edits=edits_of(found.day, useless),
        certain=True,
        firm=True,
        out=0,
        late=0,
    )
    false = replace(found, found=replace(found.found, answers=(replace(answer, remedies=(planted,)),)))
    (fault,) = Tried(false, replan).faults()
    assert f"batch {answer.batch_id}" in fault
    assert "jars out." in fault
    assert Tried(false, replan).holding_otherwise() == ()
    assert not trials(found).held(useless, answer.batch_id)


def test_what_small_trials_like_and_the_lead_would_not_get_is_not_offered(
    monkeypatch: pytest.MonkeyPatch,
) -> None:
    found = asked(2)
    answer, remedy = next(one for one in found.remedies if not one[1].certain)
    assert trials(found).held(remedy.changes, answer.batch_id) is not None
    # Planted: the lead's own plan of the changed day is no better than the plan at hand.
    monkeypatch.setattr(Trials, "_planned_as_usual", lambda self, changes, day: self.now)
    assert trials(found).held(remedy.changes, answer.batch_id) is None


def test_the_plan_that_the_lead_makes_is_the_one_that_was_tried() -> None:
    """With a proof beside it and read from a file, the same seed and effort give the same day."""
    found = asked(2)
    remedy = next(remedy for _, remedy in found.remedies if not remedy.certain)
    day = changed(found.day, remedy.changes)
    tried = plan(day, seconds=2, seed=found.seed, clock=lambda: 0.0, prove=False)
    made = plan(read_day(day_toml(day)), seconds=2, seed=found.seed, clock=time.monotonic)
    assert (made.loads, made.left_out) == (tried.loads, tried.left_out)


def test_the_benchmark_counts_what_holds_with_another_seed() -> None:
    found = asked(1)
    otherwise = Tried(found, replan).holding_otherwise()
    given = [remedy for _, remedy in found.remedies]
    assert {id(one) for one in given if one.firm} <= {id(one) for one in otherwise}
    careless = Tried(found, lambda day, seed: replan(found.day, seed))
    assert len(careless.holding_otherwise()) < len(otherwise)


def test_a_plan_that_breaks_a_rule_is_caught() -> None:
    found = asked(1)

    def careless(day: Day, seed: int) -> Plan:
        made = replan(day, seed)
        return replace(made, assignments=made.assignments[1:])

    told = list(Tried(found, careless).faults())
    assert len(told) == len(found.remedies)
    assert all("breaks a rule" in fault for fault in told)


def test_the_smallest_closing_that_holds_is_offered() -> None:
    checked = 0
    for seed in SEEDS:
        found = asked(seed)
        for answer in found.found.answers:
            for remedy in answer.remedies:
                (change, *more) = remedy.changes or (None,)
                if isinstance(change, CloseLater) and not more:
                    again = trials(found)
                    held = [
                        bool(again.held((CloseLater(minutes=minutes),), answer.batch_id))
                        for minutes in LATER_MINUTES
                        if minutes <= change.minutes
                    ]
                    assert held == [False] * (len(held) - 1) + [True]
                    checked += 1
        if checked > 3:
            return
    raise AssertionError("no closing later was offered")


def test_no_other_batch_loses_a_jar_by_a_remedy() -> None:
    found = asked(2)
    before = standings(found.day, found.planned)
    for answer in found.found.answers:
        for remedy in answer.remedies:
            day = changed(found.day, remedy.changes)
            after = standings(day, plan(day, seconds=2, seed=7, clock=lambda: 0.0))
            assert sum(one.left for one in after.values()) <= sum(before[name].left for name in after)


def test_no_change_touches_a_rule_a_policy_or_a_vessel() -> None:
    day = over_full_day(10)

    def vessels(one: Day) -> list[Canner]:
        return [replace(canner, service=()) for canner in one.canners]

    for batch in day.batches:
        for rung in ladder(day, batch, late=True):
            for choice in rung.choices:
                after = changed(day, choice)
                assert (after.policy, after.altitude_ft, vessels(after)) == (
                    day.policy,
                    day.altitude_ft,
                    vessels(day),
                )
                for before, now in zip(day.canners, after.canners, strict=True):
                    assert bool(now.service) == bool(before.service)


def test_a_canner_out_of_service_for_its_gauge_stays_out_on_every_changed_day() -> None:
    day = over_full_day(10)
    dial = next(one for one in day.canners if one.kind == "dial")
    unchecked = replace(dial, gauge_checked_on=None)
    day = replace(day, canners=tuple(unchecked if one.id == dial.id else one for one in day.canners))
    for rung in ladder(day, day.batches[0], late=True):
        for choice in rung.choices:
            kept = next(one for one in changed(day, choice).canners if one.id == dial.id)
            assert kept.gauge_checked_on is None


def test_the_same_question_gets_the_same_answers() -> None:
    found = asked(3)
    again = what_if(found.day, found.planned, usual=usual(3), seconds=600, clock=lambda: 0.0)
    assert again == found.found


def test_a_plan_that_leaves_nothing_out_needs_no_answer() -> None:
    day = read_day((DAYS / "tiny.toml").read_text(encoding="utf-8"))
    found = what_if(day, replan(day, 1), usual=usual(1), seconds=10, clock=lambda: 0.0)
    assert (found.answers, found.plans) == ((), 0)
    assert what_if_text(day, found) == "WHAT WOULD PLACE IT\nNothing is left out and nothing is late.\n"


def test_the_search_ends_at_its_limit_and_when_told_and_says_so() -> None:
    found = asked(1)
    ticks = count()
    limited = what_if(found.day, found.planned, usual=usual(1), seconds=4, clock=lambda: float(next(ticks)))
    assert limited.stopped_because == "time limit"
    assert not limited.answers[-1].complete
    assert "before the search ended" in what_if_text(found.day, limited)
    stopped = what_if(
        found.day, found.planned, usual=usual(1), seconds=60, clock=lambda: 0.0, should_stop=lambda: True
    )
    assert (stopped.stopped_because, stopped.plans) == ("asked to stop", 0)
    assert len(stopped.answers) == len(found.found.answers)


def test_progress_counts_the_answered_batches() -> None:
    found, heard = asked(3), list[tuple[int, int]]()
    what_if(
        found.day,
        found.planned,
        usual=usual(3),
        seconds=600,
        clock=lambda: 0.0,
        on_progress=lambda answered, of: heard.append((answered, of)),
    )
    assert heard == [(number, len(found.found.answers)) for number in range(len(found.found.answers))]


def test_a_batch_placed_by_another_search_needs_no_change() -> None:
    """The plan at hand has lost a load; planning again is all that is needed."""
    day = over_full_day(1)
    first = replace(day, batches=(replace(day.batches[0], arrival=7 * 60, jars=4, pickup=day.horizon),))
    good = replan(first, 1)
    assert not good.left_out
    lost = replan(replace(first, opening=(Span(7 * 60, 7 * 60 + 30),)), 1)
    assert lost.left_out
    found = what_if(first, lost, usual=usual(1), seconds=60, clock=lambda: 0.0)
    (remedy,) = found.answers[0].remedies
    assert (remedy.changes, remedy.edits, remedy.certain) == ((), (), True)
    assert remedy.words.startswith("Change nothing and plan again")


def test_the_text_names_the_batch_the_change_and_the_edit() -> None:
    found = asked(1)
    told = what_if_text(found.day, found.found)
    plain = " ".join(told.split())
    for answer in found.found.answers:
        assert f"batch {answer.batch_id})" in plain
        for remedy in answer.remedies:
            assert " ".join(remedy.words.split()) in plain
            for edit in remedy.edits:
                assert edit.words in told
    assert f"found by planning {found.found.plans} changed days" in plain


def test_a_batch_that_nothing_helps_is_said_plainly() -> None:
    found = asked(1)
    answer = replace(found.found.answers[0], remedies=(), in_vain=("the other pack", "another day"))
    told = what_if_text(found.day, replace(found.found, answers=(answer,)))
    assert "Nothing on the list of changes places it." in told
    assert "Tried, without placing it every time: the other pack, another day." in told


def test_the_command_prints_what_would_place_it(tmp_path: Path) -> None:
    path = tmp_path / "day.toml"
    path.write_text(day_toml(over_full_day(1)), encoding="utf-8")
    out, err = io.StringIO(), io.StringIO()
    status = main(["plan", str(path), "--seconds", "0.5", "--what-if"], out, err)
    assert (status, err.getvalue()) == (0, "")
    plan_text, _, what_if_part = out.getvalue().partition("\nWHAT WOULD PLACE IT\n")
    assert "What-if looks for a change that would place it." in " ".join(plan_text.split())
    assert "Bring it on another day" in what_if_part
    assert "[kitchen] date = 2026-09-06" in what_if_part


def test_the_benchmark_counts_and_fails_on_nothing() -> None:
    out, err = io.StringIO(), io.StringIO()
    options = ["--first", "13", "--seeds", "1", "--seconds", str(EFFORT_SECONDS)]
    status = main(["bench", "what-if", *options], out, err)
    assert (status, err.getvalue()) == (0, "")
    *_, day, promised, otherwise = out.getvalue().splitlines()
    assert day.startswith("seed 13: ")
    assert promised.startswith("1 days, 0 of them cut short: ")
    given = len(asked(13).remedies)
    assert promised.endswith(f"{given} remedies, {given} of {given} place the batch")
    assert otherwise.startswith("with another seed: ")
    assert main(["bench", "what-if", "--seeds", "0"], out, err) == 2
