"""A hundred rotas of made-up days, with other wishes, people missing and people put somewhere: no rule is broken."""

from __future__ import annotations

import io
from dataclasses import replace
from itertools import pairwise

from scheduler.__main__ import main
from scheduler.commands.bench_judged import planned_by_effort
from scheduler.commands.judged_rotas import judge_rotas
from scheduler.every_feature import every_feature_day
from scheduler.plan import Plan
from scheduler.problem import Day
from scheduler.random_rotas import RULES_OF_ROTAS, JudgedRota, random_rota
from scheduler.rules.case import Case


def drawn(rotas: int, first: int) -> list[JudgedRota]:
    """Rotas of one day, in the order of their seeds."""
    day = every_feature_day(first)
    planned = planned_by_effort(day, 0.05, first)
    assert planned.loads
    return [random_rota(day, planned, seed) for seed in range(rotas)]


def test_a_hundred_rotas_keep_every_rule_about_people() -> None:
    out, err = io.StringIO(), io.StringIO()
    assert judge_rotas(100, 1, 0.05, out, err, planner=planned_by_effort), err.getvalue()
    told, last = out.getvalue().splitlines()
    assert told.startswith("100 rotas of 5 days in ")
    assert last == "0 violations in 0 rotas"


def test_they_ask_for_much_and_hold_much_work() -> None:
    rotas = drawn(20, 1)
    assert len({one.plan.assignments for one in rotas}) > 15
    assert any(one.missing for one in rotas)
    assert any(one.pins for one in rotas)
    assert sum(one.filled for one in rotas) > 0.5 * sum(one.seats for one in rotas)
    assert sum(len(one.plan.loads) for one in rotas) > 0


def test_a_seed_brings_its_rota_back() -> None:
    assert drawn(3, 1) == drawn(3, 1)


def test_a_rota_drawn_for_others_breaks_every_rule() -> None:
    """So that a silence means something: each rota held to the wishes and the limits of the next one's people."""
    rotas = drawn(30, 1)
    found = {
        violation.rule
        for one, other in pairwise(rotas)
        for check in RULES_OF_ROTAS
        for violation in check(Case.of(other.day, one.plan))
    }
    assert found == {"breaks", "shift", "station", "company", "S9", "people"}


def test_a_rota_that_breaks_a_rule_is_counted_and_named() -> None:
    def careless(day: Day, planned: Plan, seed: int) -> JudgedRota:
        rota = random_rota(day, planned, seed)
        alone = replace(rota.plan, assignments=())
        found = tuple(one for check in RULES_OF_ROTAS for one in check(Case.of(rota.day, alone)))
        return replace(rota, plan=alone, violations=found)

    out, err = io.StringIO(), io.StringIO()
    assert not judge_rotas(2, 1, 0.05, out, err, planner=planned_by_effort, drawer=careless)
    assert "rota " in err.getvalue()
    assert "no trained person is at the canner" in err.getvalue()
    assert "0 violations" not in out.getvalue()


def test_the_command_judges_as_many_as_asked_for() -> None:
    out, err = io.StringIO(), io.StringIO()
    assert main(["bench", "judged", "--rotas", "21", "--seconds", "0.02"], out, err) == 0
    assert err.getvalue() == ""
    assert out.getvalue().startswith("21 rotas of 2 days in ")
