"""The thorough bound on wood, found in a process of its own while the search goes on.

It takes some ten seconds of one processor and tells nothing that the search would use, unless a
plan meets it. So it is only asked for where there is time for it, and not waited for.
"""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from concurrent.futures import Future
from contextlib import contextmanager
from dataclasses import dataclass, field

from nesting.engine.proof.bounds import Bounds
from nesting.ideal import Ideal
from nesting.need import Need
from nesting.processes.workers import Workers, submitted
from nesting.rules import Rules
from nesting.stock.board import Board

Question = tuple[Sequence[Need], Sequence[Board], Rules, float]

LONG_SEARCH = 40.0
"""With less time than this the thorough bound is not asked for: it would take more than a tenth
of two processors' time (full demo: 9 s of one)."""


LATE = 0.4
"""When this share of the time is used one does not wait for more value to be placed."""


@dataclass
class Proof:
    """Asks for the thorough bound once, and raises the others to it when it is there."""

    _bounds: Bounds
    _answers: list[Future[float]] = field(default_factory=list)
    _workers: list[Workers] = field(default_factory=list)
    _value: float = 0.0

    def begin(self, ideal: Ideal, share_used: float, seconds_left: float | None) -> None:
        """Ask, if there is time and as much is placed as may be, or it is late.

        What plans of so much value need is needed by those of more as well.
        """
        if self._workers or ideal.is_proven_best or not 0.0 <= share_used < 1.0:
            return
        if seconds_left is None or seconds_left / (1.0 - share_used) < LONG_SEARCH:
            return
        if ideal.is_value_met or share_used >= LATE:
            self._value = ideal.value
            self._workers.append(Workers(1))
            bounds = self._bounds
            question = bounds.needs, bounds.boards, bounds.rules, self._value
            asked = submitted(self._workers[0], least_filled_mm2, question)
            self._answers += [asked] if asked is not None else []

    def tell(self) -> None:
        """Raise the bounds if the answer is there. A process that is lost proves nothing."""
        for answer in self._answers:
            if answer.done() and answer.exception() is None:
                self._bounds.raise_least(self._value, answer.result())

    def end(self) -> None:
        """End the process at once."""
        for workers in self._workers:
            workers.shutdown()


@contextmanager
def proof_beside(bounds: Bounds) -> Iterator[Proof]:
    """Yield what asks for the thorough bound, and end its process."""
    proof = Proof(bounds)
    try:
        yield proof
    finally:
        proof.end()


def least_filled_mm2(question: Question) -> float:
    """Return the thorough bound, here."""
    needs, boards, rules, value = question
    return Bounds(needs, boards, rules).least_filled_mm2(value)
