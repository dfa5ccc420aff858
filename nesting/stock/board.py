"""One salvaged piece of stock, built by one validated constructor whatever its source."""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass, field
from functools import cached_property
from typing import TYPE_CHECKING, Any

import numpy as np
import shapely
from numpy.typing import NDArray
from shapely.geometry import LineString, Polygon

from nesting.errors import ShapeError
from nesting.flat_geometry.overlay import why_invalid
from nesting.flat_geometry.without_heights import without_heights
from nesting.given import finite, made, number, remark, several, text, word, yes_or_no
from nesting.grain import GrainPath, straight_grain
from nesting.stock.board_outline import board_outline, place_told
from nesting.stock.keep_out import PLUGGABLE, KeepOut, KeepOutKind
from nesting.units import Unit, parse_length
from nesting.unseen import quoted, same_letters
from nesting.words import counted

if TYPE_CHECKING:
    from nesting.thumbnail import Drawn

THICKEST_MM = 400.0
"""No board of a boat these parts come from is thicker; more is a wrong unit."""

SMALLEST_MM = 10.0
"""A board narrower or shorter than this is a splinter, or a wrong unit."""

WETTEST_PERCENT = 200.0
"""Green wood of some species holds more water than wood; no figure is larger than this."""

DRIEST_PERCENT = 1.0
"""Wood out of an oven takes up more within a day (common practice, no source): what is less, and
not 0, is a share of one."""

NEAR_SLACK_MM = 1e-3
"""Boxes this near each other meet, whatever their last digits."""

GRAIN_SHARE = 0.4
"""Half the length of a line that shows straight grain in a small picture, of the board's width."""

ON_BOARD_MM = 0.5
"""How far a recorded hole's centre may lie off the board: half a millimetre of tape error."""


def moisture(given: Any, name: str) -> float:
    """Return moisture of wood in percent.

    Raises
    ------
    ShapeError
        If it is none, or looks like a share of one.
    """
    percent = finite(given, name, least=0.0, most=WETTEST_PERCENT)
    if 0.0 < percent < DRIEST_PERCENT:
        raise ShapeError(f"{name} is {percent:g}, below 1 %; write it in percent, as 14")
    return percent


@dataclass(frozen=True, repr=False)
class Board:
    """One salvaged board; :meth:`rectangle` and :meth:`outlined` make one of figures.

    Attributes
    ----------
    name
        Chalked on the wood and unique in a project.
    shape
        The outline, mm, seen from the recorded face; valid, with no inner rings.
    thickness_mm
        As it lies, before cleaning up.
    species
        A name of ``parts.wood.timber`` or one that the project declares.
    grain
        Direction of the grain; along x unless recorded otherwise.
    keep_outs
        Regions with a reason, in the board's frame.
    member
        What it was on the old boat: ``decking``, ``hull planking``.
    came_from
        Where exactly: ``port side, third strake from the king plank``.
    moisture_percent, heartwood
        As measured or judged; None where nobody looked.
    leaf
        Of a board that was resawn: which leaf this is, counted from the recorded face, and of how
        many. It lies as the whole board did; up is the face towards the recorded one.
    note
        What else is to be remembered of it.
    """

    name: str
    shape: Polygon
    thickness_mm: float
    species: str
    grain: GrainPath = field(default_factory=straight_grain)
    keep_outs: tuple[KeepOut, ...] = ()
    member: str = ""
    came_from: str = ""
    moisture_percent: float | None = None
    heartwood: bool | None = None
    leaf: tuple[int, int] | None = None
    note: str = ""

    def __post_init__(self) -> None:
        if isinstance(self.name, str) and not self.name.strip():
            raise ShapeError("a board must have a name")
        object.__setattr__(self, "name", same_letters(text(self.name, "the board's name")))
        text(self.species, "its species")
        made(self.shape, Polygon, "the outline", "Board.outlined() makes a board of its points")
        object.__setattr__(self, "shape", without_heights(self.shape, "the outline"))
        made(self.grain, GrainPath, "the grain", "straight_grain() makes one of degrees")
        object.__setattr__(self, "keep_outs", several(self.keep_outs, KeepOut, "keep_outs"))
        for name in ("member", "came_from", "note"):
            remark(getattr(self, name), name)
        if self.moisture_percent is not None:
            moist = moisture(self.moisture_percent, "moisture_percent")
            object.__setattr__(self, "moisture_percent", moist)
        if self.heartwood is not None:
            object.__setattr__(self, "heartwood", yes_or_no(self.heartwood, "heartwood"))
        object.__setattr__(self, "thickness_mm", number(self.thickness_mm, "the thickness"))
        _check_thickness(self.thickness_mm)
        if self.leaf is not None:
            object.__setattr__(self, "leaf", _leaf(self.leaf))
        if self.shape.is_empty or not self.shape.is_valid:
            raise ShapeError(f"the outline is not usable: {why_invalid(self.shape)}")
        if self.shape.interiors:
            inside = counted(len(self.shape.interiors), "opening")
            raise ShapeError(
                f"the outline has {inside}, must have none: an opening in a board is a keep-out, "
                'region("groove", its corners)'
            )
        if min(self.length_mm, self.width_mm) < SMALLEST_MM:
            raise ShapeError(
                f"the outline is {self.length_mm:g} x {self.width_mm:g} mm; a board is at least "
                f"{SMALLEST_MM:g} mm each way: is the unit right?"
            )
        for message in off_board(self.keep_outs, self.shape).values():
            raise ShapeError(message)

    @classmethod
    def rectangle(
        cls,
        name: str,
        length: float | str,
        width: float | str,
        thickness: float | str,
        species: str,
        *,
        unit: Unit | str = Unit.MM,
        **more: Any,
    ) -> Board:
        """Return a board with square ends and straight edges, its lower left corner at (0, 0).

        Parameters
        ----------
        length, width, thickness
            Numbers in ``unit``, mm if it is not given, or texts with a unit: ``"7 ft 4 1/2 in"``.
        more
            Any other attribute of a board, keep-outs in mm: ``keep_outs=[...]``.

        Raises
        ------
        ShapeError
            If it is smaller than a board can be, or a keep-out lies off it.
        LengthError
            If a length cannot be read.

        Examples
        --------
        >>> Board.rectangle("D-1", 2400, "7 1/8 in", 35, "teak")
        Board('D-1', teak, 2400 x 180.975 x 35 mm)
        """
        long, wide, thick = (_length(size, unit) for size in (length, width, thickness))
        if min(long, wide) <= 0:
            raise ShapeError(f"the board is {long:g} x {wide:g} mm, must be over 0 each way")
        return cls(name, shapely.box(0.0, 0.0, long, wide), thick, species, **more)

    @classmethod
    def outlined(
        cls,
        name: str,
        points: Sequence[tuple[float, float]],
        thickness: float | str,
        species: str,
        **more: Any,
    ) -> Board:
        """Return a board of any outline.

        Parameters
        ----------
        points
            (n, 2) corners in mm, three or more, in order either way round; closed or not.
        thickness
            mm, or a text with a unit.
        more
            Any other attribute of a board.

        Raises
        ------
        ShapeError
            If the outline crosses itself; says where.

        Examples
        --------
        >>> Board.outlined("K-3", [(0, 0), (900, 0), (850, 210), (0, 160)], 40, "white oak")
        Board('K-3', white oak, 900 x 210 x 40 mm)
        """
        return cls(name, board_outline(points), _length(thickness), species, **more)

    def __repr__(self) -> str:
        size = f"{self.length_mm:g} x {self.width_mm:g} x {self.thickness_mm:g} mm"
        keep_outs = f", {counted(len(self.keep_outs), 'keep-out')}" if self.keep_outs else ""
        return f"Board({self.name!r}, {self.species}, {size}{keep_outs})"

    def _repr_svg_(self) -> str:
        """Return a small picture, which notebooks show."""
        from nesting.thumbnail import Drawn, Look, picture

        grain = [Drawn(line, Look.LINE, "grain") for line in self._grain_lines()]
        return picture([*self.drawn(), *grain], self.in_words)

    @property
    def in_words(self) -> str:
        """Name, wood and size, as the caption of a picture says them."""
        size = f"{self.length_mm:g} x {self.width_mm:g} mm, {self.thickness_mm:g} mm thick"
        return f"{self.name}: {self.species}, {size}"

    def drawn(self) -> list[Drawn]:
        """Return what a small picture shows of it."""
        from nesting.thumbnail import Drawn, Look

        looks = {KeepOutKind.METAL: Look.METAL} | dict.fromkeys(PLUGGABLE, Look.HOLE)
        keep_outs = [
            Drawn(each.polygon, looks.get(each.kind, Look.FLAW), str(each.kind))
            for each in self.keep_outs
        ]
        return [Drawn(self.shape, Look.BOARD, self.name), *keep_outs]

    def _grain_lines(self) -> list[LineString]:
        """Return a line along the grain: through the middle, or where it was recorded."""
        if not self.grain.is_straight:
            return [LineString(self.grain.points)]
        turn, reach = math.radians(self.grain.angles_deg[0]), GRAIN_SHARE * self.width_mm
        x, y = self.shape.centroid.x, self.shape.centroid.y
        dx, dy = reach * math.cos(turn), reach * math.sin(turn)
        return [LineString([(x - dx, y - dy), (x + dx, y + dy)])]

    @property
    def length_mm(self) -> float:
        """Extent along x."""
        return self._size[0]

    @property
    def width_mm(self) -> float:
        """Extent along y."""
        return self._size[1]

    @cached_property
    def _size(self) -> tuple[float, float]:
        low_x, low_y, high_x, high_y = self.shape.bounds
        return float(high_x - low_x), float(high_y - low_y)

    @property
    def area_mm2(self) -> float:
        """Area of the outline, defects included."""
        return float(self.shape.area)

    @cached_property
    def keep_out_boxes(self) -> NDArray[np.float64]:
        """The least boxes (k, 4) around the keep-outs: x0, y0, x1, y1."""
        cores = np.array([keep_out.core for keep_out in self.keep_outs], object)
        reach = np.array([keep_out.reach_mm for keep_out in self.keep_outs])[:, None]
        boxes = np.asarray(shapely.bounds(cores)).reshape(-1, 4)
        return np.asarray(boxes + np.hstack([-reach, -reach, reach, reach]))

    def keep_outs_near(
        self, box: tuple[float, float, float, float], within_mm: float = 0.0
    ) -> tuple[KeepOut, ...]:
        """Return the keep-outs, in order, whose own box lies within a distance of another."""
        if not self.keep_outs:
            return ()
        own, reach = self.keep_out_boxes, within_mm + NEAR_SLACK_MM
        near = (own[:, 0] <= box[2] + reach) & (own[:, 2] >= box[0] - reach)
        near &= (own[:, 1] <= box[3] + reach) & (own[:, 3] >= box[1] - reach)
        return tuple(self.keep_outs[number] for number in np.flatnonzero(near))


def _length(given: float | str, unit: Unit | str = Unit.MM) -> float:
    length = given if isinstance(given, str) else number(given, "a length")
    return parse_length(length, word(unit, Unit, "unit"))


def _leaf(given: Any) -> tuple[int, int]:
    """Return which leaf it is and of how many."""
    pair = several(given, int, "leaf") if isinstance(given, list | tuple) else ()
    if len(pair) != 2 or not 1 <= pair[0] <= pair[1]:
        raise ShapeError(f"leaf is {quoted(given)}, must be which one and of how many: (2, 3)")
    return pair[0], pair[1]


def _check_thickness(thickness_mm: float) -> None:
    if not 0 < thickness_mm <= THICKEST_MM:
        raise ShapeError(
            f"the thickness is {thickness_mm:g} mm, must be over 0 and at most "
            f"{THICKEST_MM:g} mm: is the unit right?"
        )


def off_board(keep_outs: Sequence[KeepOut], shape: Polygon) -> dict[int, str]:
    """Return which keep-outs, by number, lie off a board of a shape, and what to say of each."""
    if not keep_outs:
        return {}
    cores = np.array([keep_out.core for keep_out in keep_outs], object)
    gaps = shapely.distance(shape, cores)
    found = {}
    for place in map(int, np.flatnonzero(gaps > ON_BOARD_MM)):
        at = cores[place].representative_point()
        found[place] = (
            f"{keep_outs[place].kind} at {place_told((at.x, at.y))} lies {gaps[place]:.1f} mm off "
            "the board; check the coordinates, or take it out of the list"
        )
    return found
