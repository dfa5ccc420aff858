"""A fault that the referee found, and what ends a run for it."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

from nesting.errors import RefereeError

QUANTITY = "quantity"
"""The rule that a plan places, or leaves over, as many pieces as the parts list asks for."""


@dataclass(frozen=True)
class Fault:
    """One broken rule: which, on which board if on one, and what was measured."""

    rule: str
    board: str
    measured: str

    def __str__(self) -> str:
        where = f"board {self.board}: " if self.board else ""
        return f"{where}{self.rule}: {self.measured}"


def require_none(faults: Sequence[Fault]) -> None:
    """Do nothing if there is no fault.

    Raises
    ------
    RefereeError
        With every fault in words.
    """
    if faults:
        raise RefereeError([str(fault) for fault in faults])
