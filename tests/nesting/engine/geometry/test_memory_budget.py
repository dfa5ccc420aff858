"""Answers kept within a budget: each made once, the older half let go when there are too many."""

from dataclasses import dataclass

from nesting.engine.geometry.memory_budget import Store


@dataclass(frozen=True)
class Held:
    nbytes: int


def asked(store, made, *wanted):
    """Ask for answers, each a key and its bytes; keys that have to be made are noted."""
    for key, nbytes in wanted:
        store.get(key, lambda key=key, nbytes=nbytes: made.append(key) or Held(nbytes))


def test_an_answer_is_made_once_and_kept():
    store, made = Store(10), []
    asked(store, made, ("a", 4), ("b", 6), ("a", 4), ("b", 6))
    assert (made, len(store)) == (["a", "b"], 2)
    assert store.get("a", lambda: Held(0)).nbytes == 4


def test_more_than_the_budget_lets_the_older_half_go():
    store, made = Store(10), []
    asked(store, made, ("a", 4), ("b", 4), ("c", 2), ("d", 1))
    assert len(store) == 2
    asked(store, made, ("c", 2), ("d", 1), ("e", 7))  # 10 in all: within the budget still
    assert (made, len(store)) == (["a", "b", "c", "d", "e"], 3)
    asked(store, made, ("f", 1))  # of four the first two go, and the budget has room again
    asked(store, made, ("e", 7), ("f", 1), ("g", 2), ("c", 2))
    assert made[5:] == ["f", "g", "c"]


def test_of_three_answers_two_go():
    store, made = Store(5), []
    asked(store, made, ("a", 2), ("b", 2), ("c", 2))
    asked(store, made, ("c", 2))
    assert (made, len(store)) == (["a", "b", "c"], 1)


def test_an_answer_larger_than_the_budget_is_given_all_the_same():
    store = Store(5)
    assert store.get("a", lambda: Held(6)).nbytes == 6
    assert len(store) == 0
