"""A shop for tests of the book: boards, needs, plans made by hand, sheets without drawing them."""

from __future__ import annotations

import json
from dataclasses import dataclass, field
from pathlib import Path
from typing import Literal

import shapely
from shapely.geometry import box

from nesting import cli
from nesting.accounts.account import account_board
from nesting.book.sheet import Drawn, Sheet
from nesting.need import Need
from nesting.nest import Nest, Placement
from nesting.outline import Outline
from nesting.rates import Rates
from nesting.rules import LeastOffcut, Rules
from nesting.stock.board import Board
from nesting.units import Unit
from nesting.wishes import NO_WISHES, Wishes

RULES = Rules(kerf_mm=2.0, trim_mm=1.0, cleaning_loss_mm=1.0, least_offcut=LeastOffcut(200.0, 60.0))


@dataclass(frozen=True)
class Yard:
    """A project without a file."""

    name: str = "Teasel"
    stock: tuple[Board, ...] = ()
    needs: tuple[Need, ...] = ()
    rules: Rules = RULES
    unit: Unit = Unit.MM
    rates: Rates | None = None
    dxf_version: Literal["R2010", "R12"] = "R2010"
    wishes: Wishes = NO_WISHES
    book: Path | None = None
    book_step: int | None = None
    extra: dict = field(default_factory=dict)


def told(*arguments, code=0):
    """Give a command, which is to end with a code."""
    assert cli.main(list(arguments)) == code


def lying(plan):
    """Return board and place of every piece of a plan in a folder, by its label."""
    given = json.loads((Path(plan) / "summary.json").read_text(encoding="utf-8"))
    return {
        part["label"]: (row["board"], part["x_mm"], part["y_mm"])
        for row in given["boards"]
        for part in row["parts"]
    }


def plank(name="A", length=2000.0, width=200.0, thick=30.0, species="teak", **more):
    return Board.rectangle(name, length, width, thick, species, **more)


def need(part="cleat", length=300.0, width=60.0, siding=25.0, quantity=1, **more):
    outline = Outline(box(0, 0, length, width), siding)
    return Need.of(part, outline, ["teak"], quantity=quantity, **more)


def laid(board: Board, *placed) -> Nest:
    """Return a nest: each placement given as need, x, y and, where it has several, its copy."""
    return Nest(
        board, tuple(Placement(n, x, y, copy=(more or [1])[0]) for n, x, y, *more in placed)
    )


def sheet_of(nest: Nest, project="Teasel", rules: Rules = RULES) -> Sheet:
    """Return the sheet that would be read back of a nest."""
    account = account_board(nest, rules)
    pieces = tuple(
        Drawn(p.label, p.need.part, p.number, p.need.outline.siding_mm, p.polygon)
        for p in nest.placements
    )
    board = nest.board
    return Sheet(
        board.name, project, board.shape, board.thickness_mm, board.keep_outs, pieces,
        tuple(offcut.shape for offcut in account.offcuts),
    )  # fmt: skip


def free_of(board: Board):
    """Return the wood of a board without what is grooved out of it."""
    grooves = [k.polygon for k in board.keep_outs if k.note == "sawn out"]
    return board.shape.difference(shapely.union_all(grooves)) if grooves else board.shape
