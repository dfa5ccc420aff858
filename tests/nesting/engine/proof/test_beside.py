"""The thorough bound beside the search: asked for once, where there is time, not waited for."""

import time

import pytest
from shapely.geometry import box

from nesting.engine.pack import pack
from nesting.engine.proof import beside as module
from nesting.engine.proof.beside import least_filled_mm2, proof_beside
from nesting.engine.proof.bounds import Bounds
from nesting.engine.stop import MaxSeconds
from nesting.ideal import Ideal, Limit
from nesting.need import Need
from nesting.outline import Outline
from nesting.rules import Rules
from nesting.stock.board import Board

RULES = Rules(kerf_mm=0, trim_mm=0, cleaning_loss_mm=0)
NEEDS = [Need("P", "any", Outline(box(0, 0, 700, 70), 20), ("oak",), 3)]
BOARDS = [Board(f"B{i}", box(0, 0, 1000, 120), 25, "oak") for i in range(4)]
VALUE = NEEDS[0].worth * 3


def ideal(value=VALUE, most=VALUE, opened=480e3):
    return Ideal(value, most, Limit.WANTED, opened, 240e3)


def answered(proof, bounds, value=VALUE):
    """Wait for the process; return the bound then."""
    for _ in range(600):
        proof.tell()
        if bounds.least_opened_mm2(value, 480e3) > 250e3:
            break
        time.sleep(0.1)
    return bounds.least_opened_mm2(value, 480e3)


def test_answer_raises_the_bound_for_plans_of_as_much_value():
    bounds = Bounds(NEEDS, BOARDS, RULES)
    before = bounds.least_opened_mm2(VALUE, 480e3)
    with proof_beside(bounds) as proof:
        proof.begin(ideal(), 0.1, 90.0)
        proof.begin(ideal(), 0.2, 80.0)
        assert len(proof._workers) == 1
        assert answered(proof, bounds) == pytest.approx(360e3, rel=1e-3)
    assert before < 250e3
    assert bounds.least_opened_mm2(VALUE / 3, 360e3) < 250e3


def test_nobody_is_asked_where_there_is_no_time_or_nothing_to_tell():
    bounds = Bounds(NEEDS, BOARDS, RULES)
    with proof_beside(bounds) as proof:
        proof.begin(ideal(), 0.1, 5.0)
        proof.begin(ideal(), 0.1, None)
        proof.begin(ideal(opened=230e3), 0.1, 90.0)
        proof.begin(ideal(value=VALUE / 2), 0.1, 90.0)
        assert proof._workers == []
        proof.begin(ideal(value=VALUE / 2), 0.5, 60.0)
        assert len(proof._workers) == 1


def test_lost_process_proves_nothing():
    bounds = Bounds(NEEDS, BOARDS, RULES)
    with proof_beside(bounds) as proof:
        proof.begin(ideal(), 0.1, 90.0)
        for process in proof._workers[0]._processes:
            process.kill()
            process.join()
        time.sleep(0.3)
        proof.tell()
        assert bounds.least_opened_mm2(VALUE, 480e3) < 250e3


def test_search_ends_where_the_proof_meets_its_plan(monkeypatch):
    """Three boards are opened and proven to be needed: the rest of the time is given back."""
    monkeypatch.setattr(module, "LONG_SEARCH", 1.0)
    start = time.monotonic()
    plan = pack(NEEDS, BOARDS, RULES, stop=MaxSeconds(55.0), workers=2)
    assert plan.ideal.is_proven_best
    assert plan.opened_mm2 == pytest.approx(360e3)
    assert time.monotonic() - start < 50.0


def test_question_is_answered_here_as_well():
    found = least_filled_mm2((NEEDS, BOARDS, RULES, VALUE))
    assert found == pytest.approx(360e3, rel=1e-3)
