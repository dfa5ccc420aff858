"""Lines, curves and filled areas out of a DXF drawing, flattened, in mm.

Whatever stands in the drawing comes out: as a curve, as the border of a filled area, or told as
unread, with its kind, handle, layers and place; who asks for a layer decides what that means.
"""

from __future__ import annotations

import math
from collections.abc import Iterable, Iterator, Sequence
from dataclasses import dataclass
from pathlib import Path

import numpy as np

from nesting.dxf_file.entities import (
    CURVES,
    FILLS,
    BrokenError,
    EmptyError,
    Entity,
)
from nesting.dxf_file.fills import fill_borders
from nesting.dxf_file.flat import Frame, Points, plane_axes
from nesting.dxf_file.kinds import Drawn
from nesting.dxf_file.rings import JOIN_MM, Curve
from nesting.dxf_file.sections import DxfFile, read_dxf
from nesting.dxf_file.unread import NO_OUTLINE, Unread, place_of
from nesting.errors import DrawingError
from nesting.units import Unit
from nesting.unseen import looked_up, quoted

MOST_CURVES = 200_000
"""More lines and curves, inserted blocks counted each time, are no drawing of boards."""

DEEPEST_BLOCK = 16
"""Blocks inside blocks; more is a block that holds itself."""

MOST_POINTS_IN_ALL = 5_000_000
"""Points on all curves of a drawing: a hundred times a large one; what is copied in rows and
columns would else fill the memory."""

FARTHEST_MM = 1e9
"""A thousand kilometres from the origin: past that a hundredth of a millimetre is lost, and no
shop draws there."""

_HEADER_UNITS = {1: Unit.INCH, 2: Unit.FOOT, 4: Unit.MM, 5: Unit.CM, 6: Unit.M}
_MESHES = 16 | 64
"""Flags of a polyline that is a mesh of faces."""

_CONSTANT, _HIDDEN = 2, 1
"""Flags of a block's attribute: text that every insert shows; text that none shows."""


@dataclass(frozen=True)
class Curves:
    """All curves of a drawing, mm, and the unit that they were drawn in.

    ``fills`` are borders of filled areas; ``is_unit_stated``, whether the drawing itself says
    its unit; ``is_unit_guessed``, whether nobody does.
    """

    curves: tuple[Curve, ...]
    fills: tuple[Curve, ...]
    unread: tuple[Unread, ...]
    unit: Unit
    is_unit_stated: bool
    is_unit_guessed: bool = False


def read_curves(path: Path, *, unit: Unit | None, default_unit: Unit) -> Curves:
    """Read what stands in model space; what stands on paper is told as unread.

    Parameters
    ----------
    unit
        In place of whatever the drawing's header says.
    default_unit
        Where the header says nothing.

    Raises
    ------
    DrawingError
        If the file is not there, is no DXF, was cut off, holds a number that is none, is in a
        unit not known here, or holds blocks without end.
    """
    file = read_dxf(path)
    stated = _stated_unit(file) if unit is None else None
    used = unit or stated or default_unit
    reader = _Reader(file)
    frame = Frame(np.eye(3) * used.mm, np.zeros(3))
    reader.read(file.model, frame)
    on_paper = tuple(
        Unread(entity.name, (entity.layer,), None, "stands on paper, not in the model", True, True)
        for entity in file.paper
        if entity.kind != "VIEWPORT"
    )
    unread = (*reader.unread, *on_paper)
    is_guessed = unit is None and stated is None
    return Curves(
        tuple(reader.curves), tuple(reader.fills), unread, used, stated is not None, is_guessed
    )


def _stated_unit(file: DxfFile) -> Unit | None:
    if not file.units:
        return None
    if file.units not in _HEADER_UNITS:
        raise DrawingError(
            f"{file.path}: the header's unit ($INSUNITS {file.units}) is none of mm, cm, m, in, "
            "ft; say what it was drawn in with unit:"
        )
    return _HEADER_UNITS[file.units]


@dataclass
class PointsCounted:
    """How many points the curves of a drawing have so far."""

    count: int = 0

    def add(self, count: int, path: Path) -> None:
        """Count some more; raises DrawingError past the limit."""
        self.count += count
        if self.count > MOST_POINTS_IN_ALL:
            raise DrawingError(
                f"{path}: its curves have more than {MOST_POINTS_IN_ALL:,} points in all; take out "
                "curves of kilometres, and what is inserted thousands of times"
            )


@dataclass(frozen=True)
class _Where:
    """Where entities are read: in which frame, by which inserts, how deep in blocks."""

    frame: Frame
    layer: str = "0"
    layers: tuple[str, ...] = ()
    depth: int = 0

    def layers_of(self, entity: Entity) -> tuple[str, ...]:
        """Return all layers of an entity; in a block, layer 0 means that of its insert."""
        own = self.layer if entity.layer == "0" and self.depth else entity.layer
        return tuple(dict.fromkeys((own, *self.layers)))


class _Reader:
    """Turns entities into curves and fills in mm, and notes what is neither."""

    def __init__(self, file: DxfFile) -> None:
        self._file = file
        self._count = 0
        self._points = PointsCounted()
        self.curves: list[Curve] = []
        self.fills: list[Curve] = []
        self.unread: list[Unread] = []

    def read(self, entities: Iterable[Entity], frame: Frame) -> None:
        """Read entities of the model."""
        self._all(entities, _Where(frame))

    def _all(self, entities: Iterable[Entity], where: _Where) -> None:
        for entity in entities:
            self._add_count(1)
            try:
                self._one(entity, where)
            except BrokenError as error:
                is_shape = not isinstance(error, EmptyError)
                self._note(entity, where, str(error), is_shape=is_shape)

    def _one(self, entity: Entity, where: _Where) -> None:
        kind = entity.kind
        if kind == "INSERT":
            self._insert(entity, where)
        elif kind == "POLYLINE" and entity.flags() & _MESHES:
            self._note(entity, where, "is a mesh of faces")
        elif kind in CURVES:
            self._keep(self.curves, [_curve(entity, where)])
        elif kind in FILLS:
            self._keep(self.fills, _fills(entity, where))
        elif kind != "ATTDEF" or not where.depth or entity.flags() & _CONSTANT:
            # Else each insert writes its own words there, and they are read with it.
            self._note(entity, where, "is no line or curve", is_shape=kind not in NO_OUTLINE)

    def _keep(self, kept: list[Curve], found: Sequence[Curve]) -> None:
        self._points.add(sum(len(curve.points) for curve in found), self._file.path)
        kept.extend(found)

    def _note(self, entity: Entity, where: _Where, why: str, *, is_shape: bool = True) -> None:
        place = place_of(entity, where.frame)
        self.unread.append(Unread(entity.name, where.layers_of(entity), place, why, is_shape))

    def _add_count(self, count: int) -> None:
        self._count += count
        if self._count > MOST_CURVES:
            raise DrawingError(
                f"{self._file.path}: holds more than {MOST_CURVES:,} lines and curves"
            )

    def _insert(self, insert: Entity, where: _Where) -> None:
        name = insert.text(2)
        if where.depth >= DEEPEST_BLOCK:
            raise DrawingError(
                f"{self._file.path}:{insert.line}: {insert.name} on layer {quoted(insert.layer)} "
                f"inserts block {quoted(name)} within {where.depth} others: it seems to hold "
                "itself; take the insert out of the block"
            )
        block = self._file.blocks.get(looked_up(name))
        if block is None:
            raise BrokenError(f"inserts a block {quoted(name)} that is not in the file")
        if block.is_twice:
            raise BrokenError(
                f"inserts a block {quoted(name)} that is in the drawing twice; save it again"
            )
        if block.is_elsewhere:
            raise BrokenError(
                f"inserts {quoted(name)}, which is in another file; bind it into this one"
            )
        layers = where.layers_of(insert)
        before = len(self.curves), len(self.fills), len(self.unread)
        base = np.array(block.head.points(10)[0] if block.head.points(10) else (0.0, 0.0, 0.0))
        for frame in self._insert_frames(insert, where.frame, base):
            self._all(block.entities, _Where(frame, layers[0], layers, where.depth + 1))
        for attribute in insert.members:
            if not attribute.flags() & _HIDDEN:
                self._note(attribute, where, "is no line or curve", is_shape=False)
        if before == (len(self.curves), len(self.fills), len(self.unread)):
            self._note(
                insert, where, f"inserts {quoted(name)}, which holds nothing", is_shape=False
            )

    def _insert_frames(self, insert: Entity, outer: Frame, base: Points) -> Iterator[Frame]:
        """Yield the frame of each insert of an array, or of the only one."""
        at = np.array(insert.point(10, what="place"))
        scales = [insert.number(code, what="scale", default=1.0) for code in (41, 42, 43)]
        if scales[0] == 0 or scales[1] == 0:
            raise BrokenError("is inserted with a scale of 0")
        # Flat drawings are saved so by some programs; a z scale means nothing here.
        scales[2] = scales[2] or 1.0
        angle = math.radians(insert.number(50, what="angle", default=0.0))
        turn = np.array(
            [
                [math.cos(angle), -math.sin(angle), 0.0],
                [math.sin(angle), math.cos(angle), 0.0],
                [0.0, 0.0, 1.0],
            ]
        )
        axes = plane_axes(insert)
        matrix = axes @ turn @ np.diag(scales)
        for step in self._grid(insert):
            offset = axes @ (at + turn @ step) - matrix @ base
            yield Frame(outer.matrix @ matrix, outer.matrix @ offset + outer.offset)

    def _grid(self, insert: Entity) -> Iterator[Points]:
        columns, rows = (int(insert.number(code, what="count", default=1)) for code in (70, 71))
        across, up = (insert.number(code, what="spacing", default=0.0) for code in (44, 45))
        if columns < 0 or rows < 0:
            raise BrokenError(f"is an array of {columns} x {rows}")
        # Where the spacing is 0 all stand in one place, as one.
        columns = max(1, columns) if across else 1
        rows = max(1, rows) if up else 1
        self._add_count(columns * rows)
        for row in range(rows):
            for column in range(columns):
                yield np.array([column * across, row * up, 0.0])


def _curve(entity: Entity, where: _Where) -> Curve:
    """Return an entity as a curve; raises BrokenError if it encloses or joins nothing."""
    found = Drawn(entity, where.frame)
    points = found.points()
    if len(points) < 2:
        raise EmptyError("has a single corner")
    return _made(entity, where, points, found)


def _fills(entity: Entity, where: _Where) -> list[Curve]:
    layers = where.layers_of(entity)
    made = []
    for border in fill_borders(entity, where.frame):
        _check_near(border)
        flat = border[:, :2]
        if not _is_ring(flat):
            raise BrokenError("encloses nothing")
        rise_mm = float(np.ptp(border[:, 2]))
        made.append(Curve(flat, layers[0], True, layers=layers, name=entity.name, rise_mm=rise_mm))
    return made


def _made(entity: Entity, where: _Where, points: Points, found: Drawn) -> Curve:
    _check_near(points)
    flat = points[:, :2]
    is_closed = found.is_closed or _meets_itself(flat)
    if not np.ptp(flat, axis=0).any():
        raise EmptyError("has no length")
    if is_closed and not _is_ring(flat):
        raise BrokenError("goes there and back, and encloses nothing")
    layers = where.layers_of(entity)
    return Curve(
        flat,
        layers[0],
        is_closed,
        found.circle,
        layers=layers,
        name=entity.name,
        width_mm=found.width_mm,
        rise_mm=float(np.ptp(points[:, 2])),
    )


def _check_near(points: Points) -> None:
    farthest = float(np.abs(points).max(initial=0.0))
    if not farthest <= FARTHEST_MM:
        raise BrokenError(f"reaches {farthest / 1e6:.3g} km from the origin")


def _is_ring(points: Points) -> bool:
    """Return whether there are three points or more that differ."""
    seen: set[tuple[float, float]] = set()
    for x, y in points.tolist():
        seen.add((x, y))
        if len(seen) > 2:
            return True
    return False


def _meets_itself(points: Points) -> bool:
    """Return whether a curve ends where it began: drawn closed, only not marked so."""
    if len(points) < 4:
        return False
    return bool(np.hypot(*(points[0] - points[-1])) <= JOIN_MM)
