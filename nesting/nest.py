"""Where each part lies: placements, the nest of one board, the cutting plan of a project."""

from __future__ import annotations

import math
from dataclasses import dataclass
from typing import TypeVar

import numpy as np
import shapely
from numpy.typing import NDArray
from shapely.geometry import Polygon
from shapely.geometry.base import BaseGeometry

from nesting.ideal import Ideal
from nesting.left_over import NOT_LOOKED_AT, Prospect
from nesting.need import Misfit, Need
from nesting.rules import TOUCH_MM, Rules
from nesting.stock.board import Board

GeometryT = TypeVar("GeometryT", bound=BaseGeometry)


@dataclass(frozen=True)
class Placement:
    """One outline on a board.

    The outline is first turned over if so (y to -y: marked face down), then turned by
    ``angle_deg``, then moved so that its origin comes to (``x_mm``, ``y_mm``).
    """

    need: Need
    x_mm: float
    y_mm: float
    angle_deg: float = 0.0
    is_turned_over: bool = False
    copy: int = 1

    @property
    def label(self) -> str:
        """Name of this very piece: the part's, with its number where several are wanted."""
        return f"{self.need.part}.{self.copy}" if self.need.quantity > 1 else self.need.part

    def to_board(self, points: NDArray[np.float64]) -> NDArray[np.float64]:
        """Return (n, 2) points of the outline's frame in the board's."""
        turn = math.radians(self.angle_deg)
        cosine, sine = math.cos(turn), math.sin(turn)
        x, y = points[:, 0], -points[:, 1] if self.is_turned_over else points[:, 1]
        return np.column_stack(
            [x * cosine - y * sine + self.x_mm, x * sine + y * cosine + self.y_mm]
        )

    def placed(self, geometry: GeometryT) -> GeometryT:
        """Return a geometry of the outline's frame in the board's."""
        return shapely.transform(geometry, self.to_board)

    @property
    def polygon(self) -> Polygon:
        """The outline as it lies on the board."""
        return self.placed(self.need.outline.shape)


@dataclass(frozen=True)
class Bung:
    """One old hole to be reamed and plugged inside a placed part."""

    x_mm: float
    y_mm: float
    diameter_mm: float
    part: str


@dataclass(frozen=True)
class Nest:
    """All placements on one board."""

    board: Board
    placements: tuple[Placement, ...]

    def bungs(self, rules: Rules) -> tuple[Bung, ...]:
        """Return the bungs that the placements ask for, from the board's left."""
        found = [b for p in self.placements for b in bungs_in(p, self.board, rules)]
        return tuple(sorted(found, key=lambda bung: (bung.x_mm, bung.y_mm)))


def bungs_in(placement: Placement, board: Board, rules: Rules) -> tuple[Bung, ...]:
    """Return the bungs that one placement asks for, largest first.

    A screw hole at the bottom of its own recess is closed by the recess's bung.
    """
    polygon = placement.polygon
    found: list[Bung] = []
    near = board.keep_outs_near(polygon.bounds)
    holes = [k for k in near if placement.need.may_plug(k, rules)]
    for keep_out in sorted(holes, key=lambda k: -k.bounding_circle[2]):
        x, y, radius = keep_out.bounding_circle
        if not polygon.contains(shapely.Point(x, y)):
            continue
        if any(
            math.hypot(x - b.x_mm, y - b.y_mm) + radius <= b.diameter_mm / 2 + TOUCH_MM
            for b in found
        ):
            continue
        size = rules.plug_for(keep_out)
        assert size is not None
        found.append(Bung(x, y, size, placement.label))
    return tuple(found)


@dataclass(frozen=True)
class Unplaced:
    """Copies of a part that found no board, why, and what else was found out about them."""

    need: Need
    count: int
    reason: Misfit
    prospect: Prospect = NOT_LOOKED_AT


@dataclass(frozen=True)
class CuttingPlan:
    """The nests of a whole project and what was left unplaced; unopened boards have no nest.

    ``ideal`` says how far from ideal it may be, where that is known.
    """

    nests: tuple[Nest, ...]
    unplaced: tuple[Unplaced, ...] = ()
    ideal: Ideal | None = None

    @property
    def placed_value(self) -> float:
        """Sum of the worth of all placed parts."""
        return sum(p.need.worth for nest in self.nests for p in nest.placements)

    @property
    def opened_mm2(self) -> float:
        """Area of the boards that got a part."""
        return sum(nest.board.area_mm2 for nest in self.nests)
