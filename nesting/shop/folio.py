"""All that an output is made of: a plan with its account, and what it is for."""

from __future__ import annotations

import datetime
from collections.abc import Callable, Mapping
from dataclasses import dataclass, field
from functools import cached_property

from nesting.accounts.account import Account
from nesting.changes import LastPlan
from nesting.job import Job
from nesting.marking.base_line import BaseLine
from nesting.marking.marking_out import base_of
from nesting.marking.tape import Tape
from nesting.nest import CuttingPlan
from nesting.shop.identity import identities
from nesting.shop.kinds import Paper
from nesting.text_table import TextTable


def unremarked(remark: str) -> None:
    """Say nothing of a remark."""


@dataclass(frozen=True)
class Stand:
    """How far a project has come, by its stock book: in sentences, and system by system.

    ``sawn`` has the board that gave each piece that is sawn and counts, by the piece's label.
    """

    lines: tuple[str, ...]
    table: TextTable
    sawn: Mapping[str, str] = field(default_factory=dict)


@dataclass(frozen=True)
class Folio:
    """A plan as the shop gets it.

    Attributes
    ----------
    job
        What the plan is written for; a project has its boat as well.
    sheets
        File name of each board's cut sheet, by the board's name.
    paper
        What is printed on.
    last
        The plan before it, where that is kept in view.
    stand
        How far the project has come, where it has a stock book.
    date
        The day it is written.
    on_remark
        Is told what is to be said of an output once it is made: a paper too small, say.
    """

    job: Job
    plan: CuttingPlan
    account: Account
    sheets: Mapping[str, str]
    paper: Paper = Paper.A4
    last: LastPlan | None = None
    stand: Stand | None = None
    date: datetime.date = field(default_factory=datetime.date.today)
    on_remark: Callable[[str], None] = field(default=unremarked, compare=False, repr=False)

    @cached_property
    def bases(self) -> Mapping[str, BaseLine]:
        """What places on each opened board are counted from, by the board's name."""
        tape = Tape.of(self.job.unit)
        return {nest.board.name: base_of(nest, tape) for nest in self.plan.nests}

    @cached_property
    def identities(self) -> tuple[str, tuple[str, ...]]:
        """The plan's own word, and those of its sheets in turn."""
        return identities(self.plan.nests)

    @property
    def identity(self) -> str:
        """A short word that tells this plan from others, on paper too."""
        return self.identities[0]
