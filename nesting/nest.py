"""Where each part lies: placements, the nest of one board, the cutting plan of a project."""

from __future__ import annotations

import math
from dataclasses import dataclass
from functools import cached_property
from typing import TYPE_CHECKING, TypeVar

import numpy as np
import shapely
from numpy.typing import NDArray
from shapely.geometry import Polygon
from shapely.geometry.base import BaseGeometry

from nesting.given import finite, made, several, whole, word, yes_or_no
from nesting.ideal import Ideal
from nesting.left_over import NOT_LOOKED_AT, Prospect
from nesting.need import Misfit, Need
from nesting.rules import TOUCH_MM, Rules
from nesting.run_out import HALF, TURN, WAY
from nesting.stock.board import Board
from nesting.words import counted

if TYPE_CHECKING:
    from nesting.eased import Eased

MOST_PICTURES = 40
"""A notebook shows so many boards of a plan."""

GeometryT = TypeVar("GeometryT", bound=BaseGeometry)


@dataclass(frozen=True, repr=False)
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

    def __post_init__(self) -> None:
        """Refuse what is no place; made by the thousand, so that plain numbers pass at once."""
        if not isinstance(self.need, Need):
            made(self.need, Need, "what lies there", "Need.of() makes one of a part")
        for name in ("x_mm", "y_mm", "angle_deg"):
            value = getattr(self, name)
            if not (isinstance(value, float) and math.isfinite(value)):
                finite(value, name)
        if not isinstance(self.is_turned_over, bool):
            yes_or_no(self.is_turned_over, "is_turned_over")
        whole(self.copy, "copy")  # Whether it is wanted is for the referee to say.

    def __repr__(self) -> str:
        over = ", turned over" if self.is_turned_over else ""
        where = f"at ({self.x_mm:.6g}, {self.y_mm:.6g}) mm, {self.angle_deg:g} deg"
        return f"Placement({self.label!r}, {where}{over})"

    @property
    def label(self) -> str:
        """Name of this very piece: the part's, with its side or number where there are several."""
        return self.need.called(self.number)

    @property
    def number(self) -> int:
        """Number of this piece among all of its part, those sawn before counted in."""
        return self.need.number_of(self.copy)

    @property
    def piece(self) -> tuple[str, int]:
        """Which piece it is: its part's name, and its number among all of them."""
        return self.need.part, self.number

    @property
    def is_mirrored(self) -> bool:
        """Whether this copy is the mirror image of the outline, as the port one of a pair is."""
        return any(self.need.mirrored[self.number - 1 : self.number])

    @property
    def marked_face(self) -> str:
        """Which way this piece's marked face lies: ``up`` or ``down``.

        The mirror image of an outline is the same blank, marked on its other face.
        """
        return "down" if self.is_turned_over != self.is_mirrored else "up"

    @property
    def left_end(self) -> str:
        """Where its left end lies, as it is seen on the marked face: ``left``, ``top``, ..."""
        turned = self.angle_deg + (180.0 if self.is_mirrored else 0.0)
        return ("left", "bottom", "right", "top")[round(turned / 90.0) % 4]

    def to_board(self, points: NDArray[np.float64]) -> NDArray[np.float64]:
        """Return (n, 2) points of the outline's frame in the board's."""
        turn = math.radians(self.angle_deg)
        cosine, sine = math.cos(turn), math.sin(turn)
        x, y = points[:, 0], -points[:, 1] if self.is_turned_over else points[:, 1]
        return np.column_stack(
            [x * cosine - y * sine + self.x_mm, x * sine + y * cosine + self.y_mm]
        )

    def laid(self, stretches: NDArray[np.float64]) -> NDArray[np.float64]:
        """Return stretches (n, 7) of the outline's frame, as :mod:`nesting.run_out` has them.

        In the board's frame.
        """
        found = stretches.copy()
        found[:, :2] = self.to_board(stretches[:, :2])
        found[:, HALF] = self.to_board(stretches[:, :2] + stretches[:, HALF]) - found[:, :2]
        if self.is_turned_over:
            found[:, [WAY, TURN]] *= -1.0
        found[:, WAY] += self.angle_deg
        return found

    def placed(self, geometry: GeometryT) -> GeometryT:
        """Return a geometry of the outline's frame in the board's."""
        return shapely.transform(geometry, self.to_board)

    @cached_property
    def polygon(self) -> Polygon:
        """The outline as it lies on the board."""
        return self.placed(self.need.outline.shape)


@dataclass(frozen=True)
class At:
    """Where a piece lies: in a plan that was written, or in the one that is made of it."""

    board: str
    placement: Placement

    @property
    def piece(self) -> tuple[str, int]:
        """Which piece it is: its part's name, and its number among all of them."""
        return self.placement.piece

    def is_at(self, board: str, placement: Placement) -> bool:
        """Return whether a placement lies at the very same place, to the last digit."""
        own = self.placement
        return board == self.board and lie_of(placement) == lie_of(own)


def lie_of(placement: Placement) -> tuple[float, float, float, bool]:
    """Return place, angle and face of a placement."""
    return placement.x_mm, placement.y_mm, placement.angle_deg, placement.is_turned_over


@dataclass(frozen=True)
class Bung:
    """One old hole to be reamed and plugged inside a placed part."""

    x_mm: float
    y_mm: float
    diameter_mm: float
    part: str


@dataclass(frozen=True, repr=False)
class Nest:
    """All placements on one board."""

    board: Board
    placements: tuple[Placement, ...]

    def __post_init__(self) -> None:
        made(self.board, Board, "the board", "Board.rectangle() makes one")
        placements = several(self.placements, Placement, "placements")
        object.__setattr__(self, "placements", placements)

    def __repr__(self) -> str:
        return f"Nest({self.board.name!r}: {counted(len(self.placements), 'part')})"

    def _repr_svg_(self) -> str:
        """Return a small picture, which notebooks show."""
        from nesting.thumbnail import Drawn, Look, picture

        board, *keep_outs = self.board.drawn()
        parts = [Drawn(p.polygon, Look.PART, p.label, is_written=True) for p in self.placements]
        # Holes that a part takes are seen on it.
        return picture([board, *parts, *keep_outs], self.board.in_words)

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


@dataclass(frozen=True, repr=False)
class Unplaced:
    """Copies of a part that found no board, why, and what else was found out about them."""

    need: Need
    count: int
    reason: Misfit
    prospect: Prospect = NOT_LOOKED_AT

    def __post_init__(self) -> None:
        made(self.need, Need, "what is left over", "Need.of() makes one of a part")
        whole(self.count, "the count", least=1)
        object.__setattr__(self, "reason", word(self.reason, Misfit, "reason"))
        made(self.prospect, Prospect, "the prospect", "Prospect() says that nobody looked")

    def __repr__(self) -> str:
        return f"Unplaced({self.need.part!r}, {self.count}: {self.reason})"


@dataclass(frozen=True, repr=False)
class CuttingPlan:
    """The nests of a whole project and what was left unplaced; unopened boards have no nest.

    ``ideal`` says how far from ideal it may be, where that is known; ``eased`` what it took to
    lay parts for easy breaking down, where that was asked for; ``fixed`` where pieces that stay
    lay in the plan before.
    """

    nests: tuple[Nest, ...]
    unplaced: tuple[Unplaced, ...] = ()
    ideal: Ideal | None = None
    eased: Eased | None = None
    fixed: tuple[At, ...] = ()

    def __post_init__(self) -> None:
        object.__setattr__(self, "nests", several(self.nests, Nest, "nests"))
        object.__setattr__(self, "fixed", several(self.fixed, At, "fixed"))
        object.__setattr__(self, "unplaced", several(self.unplaced, Unplaced, "unplaced"))
        if self.ideal is not None:
            made(self.ideal, Ideal, "ideal", "pack() says how far from it a plan is")

    def __repr__(self) -> str:
        return f"{type(self).__name__}({self._in_short})"

    def __str__(self) -> str:
        lines = [self._in_short]
        for nest in self.nests:
            lines.append(f"  {nest.board.name}: {'; '.join(p.label for p in nest.placements)}")
        lines += [f"  left over: {u.count} x {u.need.part}: {u.reason}" for u in self.unplaced]
        return "\n".join(lines)

    def _repr_html_(self) -> str:
        """Return a table of boards with a picture of each, which notebooks show."""
        from nesting.thumbnail import table

        rows = [
            [nest.board.name, nest.board.species, "; ".join(p.label for p in nest.placements)]
            for nest in self.nests
        ]
        pieces = [table(self._in_short, ["board", "wood", "parts"], rows)]
        if self.unplaced:
            left = [[u.need.part, str(u.count), str(u.reason)] for u in self.unplaced]
            pieces.append(table("left over", ["part", "how many", "why"], left))
        pictures = [f"<div>{nest._repr_svg_()}</div>" for nest in self.nests]
        return "\n".join(["<div>", *pieces, *pictures[:MOST_PICTURES], *self._more, "</div>"])

    @property
    def _more(self) -> list[str]:
        more = len(self.nests) - MOST_PICTURES
        return [f"<p>and {counted(more, 'more board')}</p>"] if more > 0 else []

    @property
    def _in_short(self) -> str:
        placed = sum(len(nest.placements) for nest in self.nests)
        left = sum(unplaced.count for unplaced in self.unplaced)
        on = f"{counted(placed, 'part')} on {counted(len(self.nests), 'board')}"
        return f"{on}, {left} left over" if left else on

    @property
    def lying(self) -> tuple[At, ...]:
        """Where each piece lies."""
        return tuple(At(nest.board.name, p) for nest in self.nests for p in nest.placements)

    @property
    def placed_value(self) -> float:
        """Sum of the worth of all placed parts."""
        return sum(p.need.worth for nest in self.nests for p in nest.placements)

    @property
    def opened_mm2(self) -> float:
        """Area of the boards that got a part."""
        return sum(nest.board.area_mm2 for nest in self.nests)
