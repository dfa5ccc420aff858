"""When the thorough bound is asked for beside a search, and what is made of the answer."""

from concurrent.futures import Future

import pytest

from nesting.engine.proof import beside as module
from nesting.engine.proof.beside import LATE, LONG_SEARCH, Proof, least_filled_mm2, proof_beside
from nesting.ideal import Ideal, Limit


def ideal(value=3.0, most=3.0, opened=480e3, least=240e3):
    return Ideal(value, most, Limit.WANTED, opened, least)


class Bounds:
    needs, boards, rules = "needs", "boards", "rules"

    def __init__(self):
        self.raised = []

    def raise_least(self, value, least):
        self.raised.append((value, least))


@pytest.fixture
def asked(monkeypatch):
    """Ask nobody; keep what would be asked and the answers to come."""
    found, pools = [], []

    class Workers:
        def __init__(self, count):
            assert count == 1
            self.is_ended = False
            pools.append(self)

        def shutdown(self):
            self.is_ended = True

    def submitted(pool, work, question):
        assert (pool, work) == (pools[-1], least_filled_mm2)
        found.append((question, Future()))
        return found[-1][1]

    monkeypatch.setattr(module, "Workers", Workers)
    monkeypatch.setattr(module, "submitted", submitted)
    return found, pools


@pytest.mark.parametrize(
    ("ideal", "share", "left", "is_asked"),
    [
        (ideal(), 0.1, 90.0, True),
        (ideal(), 0.0, LONG_SEARCH, True),
        (ideal(), 0.1, 0.9 * LONG_SEARCH, True),
        (ideal(), 0.1, 0.9 * LONG_SEARCH - 0.01, False),
        (ideal(), 0.0, None, False),
        (ideal(), 1.0, 90.0, False),
        (ideal(opened=240e3), 0.1, 90.0, False),  # proven already
        (ideal(value=2.0), LATE - 0.01, 90.0, False),
        (ideal(value=2.0), LATE, 90.0, True),
    ],
)
def test_bound_is_asked_for_where_there_is_time_and_the_value_is_met_or_it_is_late(
    asked, ideal, share, left, is_asked
):
    Proof(Bounds()).begin(ideal, share, left)
    assert len(asked[0]) == is_asked


def test_bound_is_asked_for_once_by_the_value_of_the_plan_then(asked):
    found, pools = asked
    proof = Proof(Bounds())
    proof.begin(ideal(value=2.0), 0.5, 90.0)
    proof.begin(ideal(), 0.6, 90.0)
    ((question, _),) = found
    assert question == ("needs", "boards", "rules", 2.0)
    assert len(pools) == 1


def test_answer_is_told_when_it_is_there_and_never_that_of_a_lost_process(asked):
    bounds = Bounds()
    proof = Proof(bounds)
    proof.begin(ideal(), 0.1, 90.0)
    proof.tell()
    assert bounds.raised == []
    asked[0][0][1].set_result(360e3)
    proof.tell()
    assert bounds.raised == [(3.0, 360e3)]
    other = Proof(Bounds())
    other.begin(ideal(), 0.1, 90.0)
    asked[0][1][1].set_exception(OSError("lost"))
    other.tell()
    assert other._bounds.raised == []


def test_nobody_who_takes_the_question_proves_nothing(asked, monkeypatch):
    monkeypatch.setattr(module, "submitted", lambda *_: None)
    bounds = Bounds()
    with proof_beside(bounds) as proof:
        proof.begin(ideal(), 0.1, 90.0)
        proof.begin(ideal(), 0.2, 90.0)
        proof.tell()
    assert bounds.raised == []
    assert [pool.is_ended for pool in asked[1]] == [True]


def test_process_ends_with_the_search_however_that_ends(asked):
    with pytest.raises(KeyboardInterrupt), proof_beside(Bounds()) as proof:
        proof.begin(ideal(), 0.1, 90.0)
        raise KeyboardInterrupt
    assert [pool.is_ended for pool in asked[1]] == [True]
