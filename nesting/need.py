"""One line of the parts list: an outline, how many, and what wood it accepts."""

from __future__ import annotations

from dataclasses import dataclass, field
from enum import StrEnum

from nesting.errors import ShapeError
from nesting.outline import SAME_DEG, Outline
from nesting.rules import TOUCH_MM, Rules
from nesting.stock.board import Board
from nesting.stock.keep_out import KeepOut, KeepOutKind
from nesting.units import board_feet


class Holes(StrEnum):
    """What a part tolerates in its wood; each includes the ones before it."""

    CLEAR = "clear"
    PLUGGED = "plugged"
    HIDDEN = "hidden"


class Misfit(StrEnum):
    """Why a board cannot give a part, whatever its shape."""

    NO_SPECIES = "no board of an accepted species"
    WRONG_WOOD = "no board meets its moisture, heartwood or previous use"
    TOO_THIN = "every such board is too thin"
    CROSS_GRAIN = "its grain runs out more than its run_out allows on every such board"
    TOO_LONG = "too long or too wide for any such board"
    NO_CLEAR_WOOD = "no clear wood large enough on any such board"
    NO_ROOM = "no room was found for it on the wood that fits it"


@dataclass(frozen=True)
class Need:
    """What a project wants of one outline.

    Attributes
    ----------
    part
        Name, unique in a project.
    species
        Accepted, best first; never empty.
    value
        What one saves against new timber, or any scale of the builder's own; by default its
        board feet.
    moisture_percent
        Accepted range, low and high; a board never measured passes.
    not_from
        Members of the old boat that may not give this part.
    is_plank
        Whether it is fastened all along, as ceiling is: its cross grain is nothing to weigh.
    """

    part: str
    family: str
    outline: Outline
    species: tuple[str, ...]
    quantity: int = 1
    holes: Holes = Holes.CLEAR
    plugs_per_metre: int | None = None
    value: float | None = None
    moisture_percent: tuple[float, float] | None = None
    heartwood_only: bool = False
    not_from: tuple[str, ...] = ()
    notes: tuple[str, ...] = field(default=())
    is_plank: bool = False

    def __post_init__(self) -> None:
        if self.quantity < 1:
            raise ShapeError(f"the quantity is {self.quantity}, must be 1 or more")
        if not self.species:
            raise ShapeError("a part must accept at least one species")

    @property
    def worth(self) -> float:
        """Value of one: as given, or its board feet."""
        if self.value is not None:
            return self.value
        return board_feet(self.outline.area_mm2, self.outline.siding_mm)

    def misfit(self, board: Board, rules: Rules) -> Misfit | None:
        """Return why a board's wood cannot give this part, or None; its room is not looked at.

        Whether grown wood keeps a limit on run-out depends on the place, so it is left open.
        """
        if board.species not in self.species:
            return Misfit.NO_SPECIES
        if not self._likes(board):
            return Misfit.WRONG_WOOD
        if rules.clean_thickness_mm(board.thickness_mm) < self.outline.siding_mm - TOUCH_MM:
            return Misfit.TOO_THIN
        low, high = self.outline.leans_deg
        if board.grain.is_straight and low > high + SAME_DEG:
            return Misfit.CROSS_GRAIN
        return None

    def _likes(self, board: Board) -> bool:
        if self.heartwood_only and board.heartwood is False:
            return False
        if board.member and board.member in self.not_from:
            return False
        if self.moisture_percent is None or board.moisture_percent is None:
            return True
        low, high = self.moisture_percent
        return low <= board.moisture_percent <= high

    def may_plug(self, keep_out: KeepOut, rules: Rules) -> bool:
        """Return whether a keep-out may lie in this part, closed by a bung."""
        return self.holes is not Holes.CLEAR and rules.plug_for(keep_out) is not None

    def ignores(self, keep_out: KeepOut, rules: Rules) -> bool:
        """Return whether a keep-out may lie anywhere in or across this part.

        One that cleaning up planes away does; stain and surface checks do on a hidden face.
        """
        if rules.is_planed_away(keep_out):
            return True
        if self.holes is not Holes.HIDDEN:
            return False
        if keep_out.kind is KeepOutKind.STAIN:
            return True
        is_shallow = keep_out.depth_mm is not None and keep_out.depth_mm <= rules.surface_check_mm
        return keep_out.kind is KeepOutKind.SPLIT and is_shallow

    def most_plugs(self, rules: Rules) -> int:
        """Return the most bungs allowed in any metre of this part."""
        return rules.plugs_per_metre if self.plugs_per_metre is None else self.plugs_per_metre
