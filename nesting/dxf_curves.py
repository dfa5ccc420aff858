"""Lines and curves out of a DXF drawing, flattened, in mm; the module that loads ezdxf to read.

Programs write DXF in many ways; what is met here and harmless is put right: block inserts with
a z scale of 0, extrusions that look from below, subclass markers in old files, binary files.
"""

from __future__ import annotations

import math
from collections.abc import Iterable, Iterator
from dataclasses import dataclass
from pathlib import Path
from typing import Any

import numpy as np
from ezdxf import filemanagement, recover
from ezdxf.document import Drawing
from ezdxf.entities.dxfentity import DXFEntity
from ezdxf.entities.insert import Insert
from ezdxf.math import OCS, BSpline
from numpy.typing import NDArray

from nesting.dxf_rings import JOIN_MM, Curve
from nesting.errors import DrawingError
from nesting.units import Unit

SAGITTA_MM = 0.05
"""Most that a chord lies off its curve: under any saw, and few points a metre."""

LARGEST_BYTES = 100_000_000
"""A drawing of a whole boat's outlines stays far below; more would fill the memory."""

MOST_CURVES = 200_000
"""More lines and curves, inserted blocks counted each time, are no drawing of boards."""

DEEPEST_BLOCK = 16
"""Blocks inside blocks; more is a block that holds itself."""

SPLINE_PIECES = (4, 8, 16, 32, 64, 128, 256)
"""Chords tried for each span between a spline's knots, until they lie near enough to it."""

_HEADER_UNITS = {1: Unit.INCH, 2: Unit.FOOT, 4: Unit.MM, 5: Unit.CM, 6: Unit.M}
_BINARY_MARK = b"\r\n\x1a\x00"
_SPLINE_FRAME = 16
"""Flag of a polyline's vertex that only controls a fitted curve and is not on it."""


@dataclass(frozen=True)
class Curves:
    """All curves of a drawing, mm, and the unit that they were drawn in.

    ``unread`` tells layer and kind of everything else; ``is_unit_stated``, whether the drawing
    itself says its unit.
    """

    curves: tuple[Curve, ...]
    unread: frozenset[tuple[str, str]]
    unit: Unit
    is_unit_stated: bool


def read_curves(path: Path, *, unit: Unit | None, default_unit: Unit) -> Curves:
    """Read the lines and curves of model space.

    Parameters
    ----------
    unit
        In place of whatever the drawing's header says.
    default_unit
        Where the header says nothing.

    Raises
    ------
    DrawingError
        If the file is not there, is no DXF, was cut off, is in a unit not known here, or holds
        blocks without end.
    """
    content = _content(path)
    document = _document(path)
    stated = _stated_unit(path, content, document) if unit is None else None
    used = unit or stated or default_unit
    flatten = _Flattener(path, used)
    curves = tuple(flatten.all(document.modelspace(), "0", 0))
    return Curves(curves, frozenset(flatten.unread), used, stated is not None)


def _content(path: Path) -> bytes:
    try:
        if path.is_dir():
            raise DrawingError(f"{path}: is a folder, not a drawing")
        if path.exists() and not path.is_file():
            raise DrawingError(f"{path}: is no plain file")
        if path.stat().st_size > LARGEST_BYTES:
            raise DrawingError(f"{path}: larger than {LARGEST_BYTES / 1e6:.0f} MB")
        content = path.read_bytes()
    except FileNotFoundError:
        raise DrawingError(f"{path}: there is no such file") from None
    except OSError as error:
        raise DrawingError(f"{path}: cannot be read: {error.strerror}") from None
    if b"SECTION" not in content:
        raise DrawingError(f"{path}: this is no DXF drawing; save it as DXF (R12 or R2010)")
    is_binary = _BINARY_MARK in content[:32]
    end = content.rstrip(b"\x00") if is_binary else content.rstrip()
    # A reader that repairs takes a file cut off half-way for an almost empty drawing.
    if not end.endswith(b"EOF"):
        raise DrawingError(f"{path}: the file was cut off, its end (EOF) is missing; copy it again")
    return content


def _document(path: Path) -> Drawing:
    try:
        return filemanagement.readfile(path)
    except Exception:  # a damaged file can fail anywhere inside a reader
        pass
    try:
        document, _ = recover.readfile(path)
    except Exception as error:
        raise DrawingError(f"{path}: the drawing is damaged ({error}); save it again") from None
    return document


def _stated_unit(path: Path, content: bytes, document: Drawing) -> Unit | None:
    # Where a file says no unit, the library answers with its own default, metres.
    if b"$INSUNITS" not in content:
        return None
    code = document.header.get("$INSUNITS", 0)
    if code == 0:
        return None
    if code not in _HEADER_UNITS:
        raise DrawingError(
            f"{path}: the header's unit ($INSUNITS {code}) is none of mm, cm, m, in, ft; say what "
            "it was drawn in with unit:"
        )
    return _HEADER_UNITS[code]


class _Flattener:
    """Turns entities into curves in mm."""

    def __init__(self, path: Path, unit: Unit) -> None:
        self._path = path
        self._scale = unit.mm
        self._sagitta = SAGITTA_MM / unit.mm
        self._count = 0
        self.unread: set[tuple[str, str]] = set()

    def all(self, entities: Iterable[DXFEntity], layer: str, depth: int) -> Iterator[Curve]:
        """Yield the curves of entities; in a block, layer 0 means that of its insert."""
        for entity in entities:
            own = entity.dxf.get("layer", "0")
            name = layer if own == "0" and depth else own
            if isinstance(entity, Insert):
                yield from self._insert(entity, name, depth)
                continue
            curve = self._curve(entity, name)
            if curve is None:
                self.unread.add((name, entity.dxftype()))
                continue
            self._count += 1
            self._check_count()
            yield curve

    def _check_count(self) -> None:
        if self._count > MOST_CURVES:
            raise DrawingError(f"{self._path}: holds more than {MOST_CURVES:,} lines and curves")

    def _insert(self, insert: Insert, layer: str, depth: int) -> Iterator[Curve]:
        if depth >= DEEPEST_BLOCK:
            raise DrawingError(f"{self._path}: block {insert.dxf.name} seems to hold itself")
        if insert.dxf.xscale == 0 or insert.dxf.yscale == 0:
            return
        if insert.dxf.zscale == 0:
            # Flat drawings are saved so by some programs; a z scale means nothing here.
            insert.dxf.zscale = 1.0
        self._count += insert.mcount
        self._check_count()
        for single in insert.multi_insert() if insert.mcount > 1 else [insert]:
            yield from self.all(single.virtual_entities(), layer, depth + 1)

    def _curve(self, entity: Any, layer: str) -> Curve | None:
        kind = entity.dxftype()
        if kind == "CIRCLE":
            return self._circle(entity, layer)
        points = self._points(entity, kind)
        if points is None or len(points) < 2:
            return None
        ring = points[:, :2] * self._scale
        is_closed = bool(kind in ("LWPOLYLINE", "POLYLINE", "SPLINE") and _closed(entity, kind))
        return Curve(ring, layer, is_closed or _meets_itself(ring))

    def _circle(self, entity: Any, layer: str) -> Curve | None:
        radius = entity.dxf.radius
        if not radius > 0:
            return None
        centre = _in_world(entity.ocs(), [entity.dxf.center])[0, :2]
        points = _arc(centre, radius, 0.0, 2 * math.pi, self._sagitta)[:-1]
        x, y = (centre * self._scale).tolist()
        return Curve(points * self._scale, layer, True, (x, y, 2 * radius * self._scale))

    def _points(self, entity: Any, kind: str) -> NDArray[np.float64] | None:
        """Return (n, 2 or 3) points of an entity in drawing units, or None if it is no curve."""
        if kind == "LINE":
            return np.array([tuple(entity.dxf.start), tuple(entity.dxf.end)])
        if kind == "ARC":
            start, end = math.radians(entity.dxf.start_angle), math.radians(entity.dxf.end_angle)
            sweep = (end - start) % (2 * math.pi) or 2 * math.pi
            centre = np.array(tuple(entity.dxf.center))
            flat = _arc(centre[:2], entity.dxf.radius, start, sweep, self._sagitta)
            return _in_world(entity.ocs(), flat, float(centre[2]))
        if kind == "SPLINE":
            return _spline(entity.construction_tool(), self._sagitta)
        if kind == "ELLIPSE":
            return np.array([tuple(point) for point in entity.flattening(self._sagitta)])
        if kind == "LWPOLYLINE":
            corners = [tuple(vertex) for vertex in entity.get_points("xyb")]
            flat = self._bulged(corners, bool(entity.closed))
            return _in_world(entity.ocs(), flat, float(entity.dxf.elevation))
        if kind == "POLYLINE" and (entity.is_2d_polyline or entity.is_3d_polyline):
            return self._old_polyline(entity)
        return None

    def _old_polyline(self, entity: Any) -> NDArray[np.float64]:
        vertices = [v for v in entity.vertices if not v.dxf.flags & _SPLINE_FRAME]
        if entity.is_3d_polyline:
            return np.array([tuple(v.dxf.location) for v in vertices]).reshape(-1, 3)
        corners = [(v.dxf.location.x, v.dxf.location.y, v.dxf.bulge) for v in vertices]
        flat = self._bulged(corners, bool(entity.is_closed))
        return _in_world(entity.ocs(), flat)

    def _bulged(
        self, corners: list[tuple[float, float, float]], is_closed: bool
    ) -> NDArray[np.float64]:
        """Return (n, 2) points of a polyline; a bulge is the tangent of a quarter of its arc."""
        if not corners:
            return np.empty((0, 2))
        points = [np.array([corners[0][:2]])]
        following = corners[1:] + (corners[:1] if is_closed else [])
        for (x, y, bulge), (x2, y2, _) in zip(corners, following, strict=False):
            start, end = np.array([x, y]), np.array([x2, y2])
            if bulge == 0 or np.array_equal(start, end):
                points.append(end[None])
            else:
                points.append(_bulge_arc(start, end, bulge, self._sagitta)[1:])
        return np.vstack(points)


def _closed(entity: Any, kind: str) -> bool:
    return bool(entity.is_closed if kind == "POLYLINE" else entity.closed)


def _meets_itself(points: NDArray[np.float64]) -> bool:
    """Return whether a curve ends where it began: drawn closed, only not marked so."""
    if len(points) < 4:
        return False
    return bool(np.hypot(*(points[0] - points[-1])) <= JOIN_MM)


def _arc(
    centre: NDArray[np.float64], radius: float, start: float, sweep: float, sagitta: float
) -> NDArray[np.float64]:
    """Return (n, 2) points on an arc, radians, its ends exactly."""
    step = 2 * math.acos(max(1 - sagitta / radius, 0.5))
    count = max(2, math.ceil(abs(sweep) / step))
    angles = start + np.linspace(0.0, sweep, count + 1)
    return centre + radius * np.column_stack([np.cos(angles), np.sin(angles)])


def _bulge_arc(
    start: NDArray[np.float64], end: NDArray[np.float64], bulge: float, sagitta: float
) -> NDArray[np.float64]:
    sweep = 4 * math.atan(bulge)
    chord = end - start
    # The centre lies square to the chord's middle: to its left for a short arc to the left.
    aside = np.array([-chord[1], chord[0]]) * (1 - bulge**2) / (4 * bulge)
    centre = (start + end) / 2 + aside
    spoke = start - centre
    points = _arc(centre, float(np.hypot(*spoke)), math.atan2(spoke[1], spoke[0]), sweep, sagitta)
    points[0], points[-1] = start, end
    return points


def _spline(spline: BSpline, sagitta: float) -> NDArray[np.float64]:
    """Return (n, 3) points on a spline, over the parameters where it is one.

    The knots of a closed spline go on past both ends; the curve does not.
    """
    knots = np.array(spline.knots())
    ends = knots[spline.degree], knots[spline.count]
    spans = np.unique(knots[(knots >= ends[0]) & (knots <= ends[1])])
    for pieces in SPLINE_PIECES:
        steps = np.linspace(0.0, 1.0, pieces, endpoint=False)
        at = np.append((spans[:-1, None] + np.diff(spans)[:, None] * steps).ravel(), ends[1])
        points = np.array([tuple(point) for point in spline.points(at.tolist())])
        off = points[1::2] - (points[:-1:2] + points[2::2]) / 2
        # Halving a chord quarters its sagitta: the points between are well within it already.
        if np.sqrt((off**2).sum(axis=1)).max() <= 4 * sagitta:
            break
    return points


def _in_world(ocs: OCS, points: Any, elevation: float = 0.0) -> NDArray[np.float64]:
    """Return points of an entity's own plane in the drawing's."""
    if not ocs.transform:
        return np.array([tuple(point)[:2] for point in points]).reshape(-1, 2)
    raised = [(point[0], point[1], elevation) for point in points]
    return np.array([tuple(point)[:2] for point in ocs.points_to_wcs(raised)]).reshape(-1, 2)
