"""The core: what the compiled loop says of a schedule is true, and its answers are the best on small questions."""

from __future__ import annotations

from threading import Timer

import pytest

from scheduler.core.anneal import anneal, recall
from scheduler.core.arrays import arrays_of
from scheduler.core.bounds import least_cost
from scheduler.core.check import cost_of, faults_of
from scheduler.core.prove import Prover, can_prove
from scheduler.core.question import Answer, Job, Machine, Question, Weights
from scheduler.core.rows import BEST_COST, NOT_PLACED, NOW_COST, settle
from scheduler.core.solve import Budget, solve
from scheduler.core.state import batches_of, first_state
from scheduler.errors import BadDay
from scheduler.interval import Span
from tests.scheduler.core.questions import best_cost, random_question

SEEDS = range(60)


def search(question: Question, *, moves: int = 20_000, seed: int = 1, workers: int = 1) -> Answer:
    return solve(question, budget=Budget(60, moves=moves), workers=workers, seed=seed)


@pytest.mark.parametrize("seed", SEEDS)
def test_costs_kept_while_rows_change_are_those_worked_out_anew(seed: int) -> None:
    question = random_question(seed, 12, tardy=seed % 2 == 0, same_minutes=seed % 3 != 0)
    arrays = arrays_of(question)
    state, best = first_state(question, arrays, seed)
    for warmth in (1000.0, 30.0, 1.0):  # Warm first, so that nearly every kind of change is kept.
        anneal(arrays, state, best, 1500, warmth, warmth)
        kept = int(state.total[NOW_COST])
        settle(arrays, state)
        assert int(state.total[NOW_COST]) == kept
    batches = batches_of(question, best)
    assert int(state.total[BEST_COST]) < NOT_PLACED
    assert faults_of(question, batches) == []
    assert cost_of(question, batches) == int(state.total[BEST_COST])


def test_going_back_to_the_best_brings_its_cost_back() -> None:
    question = random_question(3, 12)
    arrays = arrays_of(question)
    state, best = first_state(question, arrays, 3)
    anneal(arrays, state, best, 3000, 1000.0, 1.0)
    anneal(arrays, state, best, 100, 1e6, 1e6)
    assert int(state.total[NOW_COST]) != int(state.total[BEST_COST])
    recall(arrays, state, best)
    assert int(state.total[NOW_COST]) == int(state.total[BEST_COST])


@pytest.mark.parametrize("seed", range(40))
def test_no_other_answer_to_a_small_question_is_better(seed: int) -> None:
    question = random_question(seed, 4, tardy=seed % 4 == 0, same_minutes=seed % 4 != 1)
    best = best_cost(question)
    assert search(question).cost == best
    assert least_cost(question) <= best


@pytest.mark.parametrize("seed", range(12))
def test_the_solver_proves_what_trying_everything_finds(seed: int) -> None:
    question = random_question(seed, 4)
    assert can_prove(question)
    answer = search(question, moves=1)
    proof = Prover(question).prove(answer.batches, answer.cost, least_cost(question), 20, 1)
    assert proof.bound == proof.cost == best_cost(question)
    if proof.batches is not None:
        assert faults_of(question, proof.batches) == []
        assert cost_of(question, proof.batches) == proof.cost


def test_a_proof_cut_short_still_says_what_was_shown() -> None:
    question = random_question(2, 18)
    least = least_cost(question)
    answer = search(question, moves=2000)
    prover = Prover(question)
    Timer(5.0, prover.stop).start()
    proof = prover.prove(answer.batches, answer.cost, least, 60, 1)
    assert least < proof.bound <= proof.cost <= answer.cost


def test_a_proof_ends_the_search_and_says_so() -> None:
    question = random_question(5, 6)
    answer = solve(question, budget=Budget(60), workers=2, seed=1)
    assert answer.gap == 0
    assert answer.bound == answer.cost == cost_of(question, answer.batches)


def test_the_same_seed_and_moves_give_the_same_answer_and_another_seed_is_used() -> None:
    question = random_question(11, 30)
    one, again = (search(question, moves=3000, workers=2) for _ in range(2))
    assert one == again
    assert len({search(question, moves=200, seed=seed).batches for seed in range(4)}) > 1


def test_progress_only_gets_better_and_a_stop_is_heard() -> None:
    question = random_question(11, 30)
    told: list[Answer] = []
    solve(question, budget=Budget(60, moves=3000), workers=1, seed=1, on_progress=told.append)
    assert len(told) > 1
    assert [one.cost for one in told] == sorted((one.cost for one in told), reverse=True)
    stopped = solve(question, budget=Budget(600), workers=1, seed=1, should_stop=lambda: True)
    assert faults_of(question, stopped.batches) == []


def test_hours_that_nothing_fits_into_are_refused() -> None:
    question = Question(
        machines=(Machine(capacity=(4,), windows=(Span(0, 10),), family_at_first=0),),
        jobs=(Job(family=0, size=1, release=8, due=20, minutes=(5,), most_minutes=9),),
        setup_minutes=((0,),),
        setup_cost=((0,),),
        weights=Weights(run=1),
    )
    with pytest.raises(BadDay, match="No schedule was found"):
        search(question)


def test_a_job_that_fits_no_machine_is_refused_by_number() -> None:
    with pytest.raises(BadDay, match="Job 1 fits no machine"):
        Question(
            machines=(Machine(capacity=(4,), windows=(Span(0, 10),), family_at_first=0),),
            jobs=(Job(family=0, size=5, release=0, due=20, minutes=(5,), most_minutes=9),),
            setup_minutes=((0,),),
            setup_cost=((0,),),
            weights=Weights(run=1),
        )
