"""What a plan is written for: a project file's job, or a script's."""

from __future__ import annotations

from collections.abc import Sequence
from typing import Literal, Protocol

from nesting.need import Need
from nesting.rates import Rates
from nesting.rules import Rules
from nesting.stock.board import Board
from nesting.units import Unit
from nesting.wishes import Wishes


class Job(Protocol):
    """All that cut sheets, overview and summary say beyond the plan itself."""

    @property
    def name(self) -> str:
        """What every sheet is headed with."""
        ...

    @property
    def unit(self) -> Unit:
        """What figures on sheets are written in."""
        ...

    @property
    def rules(self) -> Rules:
        """Those that the plan was made by."""
        ...

    @property
    def stock(self) -> Sequence[Board]:
        """All boards, opened or not: a sheet's file is called alike whatever is opened."""
        ...

    @property
    def needs(self) -> Sequence[Need]:
        """All parts that were asked for."""
        ...

    @property
    def wishes(self) -> Wishes:
        """What is wished of a plan beyond the rules."""
        ...

    @property
    def rates(self) -> Rates | None:
        """What wood and work cost, where it is stated."""
        ...

    @property
    def book_step(self) -> int | None:
        """After which step of a stock book it goes on, None where no book is asked."""
        ...

    @property
    def dxf_version(self) -> Literal["R2010", "R12"]:
        """Form of the DXF files."""
        ...
