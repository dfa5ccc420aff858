"""The cuts of each board for a router: closed lines with true arcs, and nothing to be read.

Layers, in the order in which they stand in a file:

``BOARD_EDGE``
    the board's own edge, to set it by;
``METAL_NO_CUTTER``
    metal and the blade clearance around it: no cutter may come in;
``TIGHT_CORNER``
    a circle as large as the cutter at each inside corner that it does not reach;
``BORE_BUNG``, ``BORE_BOLT``
    circles to be bored: old holes that are plugged, to the bung's diameter, and bolts;
``ROUT_OPENING``, then ``ROUT_OUTLINE``
    the parts' finished edges, cut-outs first: the cutter runs on the waste side of each.
"""

from __future__ import annotations

from collections.abc import Iterator, Sequence

import numpy as np
import shapely
from shapely.geometry import LinearRing, Polygon

from nesting.accounts.account import BoardAccount
from nesting.flat_geometry.true_arcs import OFF_CHORD_MM
from nesting.folders.file_names import file_names
from nesting.nest import Nest, Placement
from nesting.outline import MarkKind
from nesting.referee.fault import require_none
from nesting.rules import Rules
from nesting.sheets.drawing import Circle, Drawing, Entity, Polyline, Role
from nesting.sheets.dxf import dxf_content
from nesting.shop.arcs import arced
from nesting.shop.check_machine import check_cutter, check_machine
from nesting.shop.folio import Folio
from nesting.shop.list_data import Column, Kind, ShopList
from nesting.shop.list_rows import ACROSS, ALONG, BOARD, FROM, PART, told_at
from nesting.shop.tight_corners import TightCorner, tight_corners
from nesting.stock.keep_out import KeepOut, KeepOutKind

PREFIX, ENDING = "machine-", ".dxf"

CORNERS = "machine-corners.csv"
"""The list of inside corners that the cutter does not reach."""

MARGIN_MM = 20.0
"""Around the board, in the file's extents."""

Near = tuple[shapely.STRtree, Rules]
"""A board's metal, and how near to it a cut may come."""

SEGMENTS = 32
"""Of a quarter turn round a metal's corner; the arc goes through their ends."""


def made(folio: Folio) -> Iterator[tuple[str, bytes]]:
    """Yield a file for each board, each read back and measured again, and the list of corners.

    Raises
    ------
    RefereeError
        If the cutter is too wide for the plan, or a file is not what the plan says.
    """
    job = folio.job
    cutter = cutter_of(folio)
    require_none(check_cutter(cutter, job.rules))
    stock = [board.name for board in (*job.stock, *(nest.board for nest in folio.plan.nests))]
    names = file_names(dict.fromkeys(stock), prefix=PREFIX, ending=ENDING)
    found = list[tuple[str, TightCorner]]()
    for nest, account in zip(folio.plan.nests, folio.account.boards, strict=True):
        corners = [c for placement in in_order(nest) for c in tight_corners(placement, cutter)]
        found += [(nest.board.name, corner) for corner in corners]
        drawing = machine_drawing(nest, account, job.rules, cutter, corners)
        content = dxf_content(drawing, job.dxf_version)
        require_none(check_machine(content, nest, job.rules, cutter))
        yield names[nest.board.name], content
    yield CORNERS, _corner_list(folio, found, cutter).csv(job.unit)


def cutter_of(folio: Folio) -> float:
    """Return the diameter of the cutter: as given, or the kerf that the plan is packed for."""
    given = getattr(folio.job, "cutter_mm", None)
    return float(folio.job.rules.kerf_mm if given is None else given)


def machine_drawing(
    nest: Nest,
    account: BoardAccount,
    rules: Rules,
    cutter_mm: float,
    corners: Sequence[TightCorner],
) -> Drawing:
    """Return what a machine takes of a nest; ``corners`` are those its cutter does not reach."""
    low_x, low_y, high_x, high_y = nest.board.shape.bounds
    metal = [keep_out for keep_out in nest.board.keep_outs if keep_out.kind is KeepOutKind.METAL]
    near = shapely.STRtree([keep_out.polygon for keep_out in metal]), rules
    entities: list[Entity] = [*_board(nest)]
    entities += [_no_cutter(keep_out, rules.blade_clearance_mm) for keep_out in metal]
    placements = in_order(nest)
    for corner in corners:
        at = (corner.x_mm, corner.y_mm)
        entities.append(Circle(at, cutter_mm / 2, Role.TIGHT_CORNER))
    for bung in account.bungs:
        at = (bung.x_mm, bung.y_mm)
        entities.append(Circle(at, bung.diameter_mm / 2, Role.BORE_BUNG))
    entities += [bolt for placement in placements for bolt in bolts(placement)]
    entities += [line for placement in placements for line in _openings(placement, near)]
    entities += [_outline(placement, near) for placement in placements]
    frame = (low_x - MARGIN_MM, low_y - MARGIN_MM, high_x + MARGIN_MM, high_y + MARGIN_MM)
    return Drawing(nest.board.name, tuple(entities), frame)


def in_order(nest: Nest) -> list[Placement]:
    """Return a nest's placements in the order in which they are cut: from the board's left."""
    return sorted(nest.placements, key=lambda placement: placement.polygon.bounds)


def bolts(placement: Placement) -> Iterator[Circle]:
    """Yield the bolts through a part's face; those in its plane are bored elsewhere."""
    for mark in placement.need.outline.marks:
        if mark.kind is MarkKind.BOLT and len(mark.points) == 1 and mark.diameter_mm:
            x, y = placement.to_board(np.asarray(mark.points, dtype=float))[0]
            yield Circle((float(x), float(y)), mark.diameter_mm / 2, Role.BORE_BOLT)


def _board(nest: Nest) -> Iterator[Polyline]:
    for ring in shapely.get_rings(nest.board.shape):
        yield _plain(ring, Role.BOARD)


def _plain(ring: LinearRing, role: Role) -> Polyline:
    return Polyline(tuple((x, y) for x, y in ring.coords[:-1]), role, is_closed=True)


def _no_cutter(keep_out: KeepOut, clearance_mm: float) -> Entity:
    """Return metal and the blade clearance around it."""
    if keep_out.is_circle:
        x, y, radius = keep_out.bounding_circle
        return Circle((x, y), radius + clearance_mm, Role.NO_CUTTER)
    grown = keep_out.polygon.buffer(clearance_mm, quad_segs=SEGMENTS)
    return arced(grown.exterior, Role.NO_CUTTER)


def _outline(placement: Placement, near: Near) -> Polyline:
    shape = shapely.geometry.polygon.orient(placement.polygon)
    return _cut(shape, shape.exterior, Role.ROUT_OUTLINE, near)


def _openings(placement: Placement, near: Near) -> Iterator[Polyline]:
    shape = shapely.geometry.polygon.orient(placement.polygon)
    for ring in shape.interiors:
        yield _cut(shape, ring, Role.ROUT_OPENING, near)


def _cut(shape: Polygon, ring: LinearRing, role: Role, near: Near) -> Polyline:
    """Return a cut with arcs; with the plan's own chords where metal is as near as may be."""
    metal, rules = near
    least = rules.clearance_mm(KeepOutKind.METAL) + OFF_CHORD_MM
    if len(metal.query(shape, predicate="dwithin", distance=least)):
        return _plain(ring, role)
    return arced(ring, role)


def _corner_list(folio: Folio, found: list[tuple[str, TightCorner]], cutter_mm: float) -> ShopList:
    """Return tight corners: where each is in its file and on its board, what is left in it."""
    rows = tuple(
        (
            board,
            corner.part,
            corner.x_mm,
            corner.y_mm,
            *told_at(folio.bases[board], corner.x_mm, corner.y_mm),
            corner.left_mm,
            cutter_mm,
        )
        for board, corner in found
    )
    columns = (
        BOARD, PART,
        Column("x in the file, mm", Kind.FIGURE), Column("y in the file, mm", Kind.FIGURE),
        ALONG, ACROSS, Column("wood left", Kind.LENGTH), Column("cutter", Kind.EXACT),
    )  # fmt: skip
    return ShopList("corners", f"Inside corners that are left{FROM}", columns, rows)
