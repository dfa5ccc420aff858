"""What the page's scripts draw and show of a plan: boards, needs and pieces, as plain data.

Points are mm, to a hundredth. A board, a need and a piece go by their number in their list.
"""

from __future__ import annotations

from collections.abc import Iterable, Iterator
from typing import Any

import numpy as np
import shapely
from shapely.geometry import LineString, Polygon

from nesting.accounts.account import BoardAccount
from nesting.accounts.strength import PieceStrength
from nesting.boat_systems import system_of
from nesting.flat_geometry.thinned import thinned
from nesting.marking.base_line import BaseLine
from nesting.need import Need
from nesting.nest import Nest, Placement
from nesting.outline import Bevel, Mark
from nesting.rules import Rules
from nesting.sheets.figures import board_size, run_text, size_text
from nesting.sheets.marking_tables import base_words
from nesting.sheets.title import faces
from nesting.shop.folio import Folio
from nesting.shop.page_cuts import cuts_data
from nesting.stock.board import Board
from nesting.stock.keep_out import KeepOut, KeepOutKind
from nesting.units import Unit
from nesting.words import counted, whole_percent
from nesting.written_measures import exact_length, format_length, taped_length

DIGITS = 2
"""Digits of a point behind the mm: a fifth of what drawings have to agree to."""

SQUARE_DEG = 0.05
"""A bevel that would be written as 0.0 degrees."""

KINDS = {
    KeepOutKind.HOLE: "old hole, metal out",
    KeepOutKind.RECESS: "counterbore or old bung",
}
"""What kinds of keep-outs are called where their own word is too short."""

Json = dict[str, Any]


def plan_data(folio: Folio) -> Json:
    """Return all of a plan but the boat."""
    job, plan = folio.job, folio.plan
    needs = {need.part: number for number, need in enumerate(job.needs)}
    opened = {nest.board.name for nest in plan.nests}
    pieces = [*_placed(folio, needs), *_missing(folio, needs)]
    boards = [
        _with_base(_board(nest.board, job.unit, job.rules), nest, folio)
        | _opened(nest, account, folio)
        for nest, account in zip(plan.nests, folio.account.boards, strict=True)
    ]
    boards += [_board(b, job.unit, job.rules) for b in job.stock if b.name not in opened]
    for number, piece in enumerate(pieces):
        if piece["board"] is not None:
            boards[piece["board"]]["pieces"].append(number)
    return {
        "name": job.name,
        "identity": folio.identity,
        "date": f"{folio.date.day} {folio.date:%B %Y}",
        "unit": {"name": job.unit.value, "mm": job.unit.mm},
        "trim": exact_length(job.rules.trim_mm, job.unit),
        "kinds": {str(kind): KINDS.get(kind, str(kind)) for kind in KeepOutKind},
        "boards": boards,
        "needs": [_need(need, job.unit) for need in job.needs],
        "pieces": pieces,
    }


# ---- shapes -----------------------------------------------------------------------------------


def flat(points: Iterable[Any]) -> list[float]:
    """Return points as x, y, x, y, ..., to a hundredth of a mm."""
    found: list[float] = np.round(np.asarray(points, float), DIGITS).ravel().tolist()
    return [int(figure) if figure == int(figure) else figure for figure in found]


def rings(shape: Polygon) -> list[list[float]]:
    """Return the rings of a polygon, the outer one first, not closed."""
    return [flat(ring.coords[:-1]) for ring in (shape.exterior, *shape.interiors)]


def _spots(shape: Polygon) -> list[list[float]]:
    """Return where a name may be written: in the widest place, and half way along."""
    widest = shapely.maximum_inscribed_circle(shape, tolerance=1.0).coords[0]
    low_x, low_y, high_x, high_y = shape.bounds
    middle = (low_x + high_x) / 2
    across = shape.intersection(LineString([(middle, low_y - 1.0), (middle, high_y + 1.0)]))
    pieces = [piece for piece in shapely.get_parts(across) if piece.length > 0]
    if not pieces:
        return [flat(widest)]
    longest = max(pieces, key=lambda piece: float(piece.length))
    return [flat(widest), flat(longest.interpolate(0.5, normalized=True).coords[0])]


# ---- boards -----------------------------------------------------------------------------------


def _board(board: Board, unit: Unit, rules: Rules) -> Json:
    origin = ", ".join(text for text in (board.member, board.came_from) if text)
    clean = rules.clean_thickness_mm(board.thickness_mm)
    heart = {None: "not recorded", True: "yes", False: "no"}[board.heartwood]
    moist = board.moisture_percent
    return {
        "name": board.name,
        "wood": board.species,
        "thick": taped_length(board.thickness_mm, unit),
        "size": board_size(board, unit),
        "facts": [
            ["wood", board.species],
            ["size", board_size(board, unit)],
            ["thickness", f"{taped_length(board.thickness_mm, unit)}, clean "
             f"{format_length(clean, unit)}"],
            *([["came from", origin]] if origin else []),
            ["moisture", "not measured" if moist is None else f"{moist:g} %"],
            ["heartwood", heart],
            ["faces", faces(board)],
            *([["note", board.note]] if board.note else []),
        ],
        "rings": rings(board.shape),
        "grain": _grain(board),
        "keepOuts": [_keep_out(k) for k in board.keep_outs],
        "pieces": [],
        "bungs": [],
        "offcuts": [],
        "shares": None,
        "sheet": None,
        "cuts": None,
    }  # fmt: skip


def _grain(board: Board) -> list[float]:
    """Return a line along the grain: as recorded, or a short one where it is straight."""
    if not board.grain.is_straight:
        return flat(board.grain.points)
    turn = np.radians(board.grain.angles_deg[0])
    middle = np.array([board.shape.centroid.x, board.shape.centroid.y])
    reach = 0.3 * board.length_mm * np.array([np.cos(turn), np.sin(turn)])
    steep = max(1.0, abs(float(reach[1])) / (0.35 * board.width_mm))
    return flat([middle - reach / steep, middle + reach / steep])


def _with_base(board: Json, nest: Nest, folio: Folio) -> Json:
    """Return a board with what its places are measured from."""
    base = folio.bases[nest.board.name]
    furthest = max((base.reach_of(p.polygon)[2] for p in nest.placements), default=0.0)
    told = base_words(base, furthest, folio.job.unit)
    return {**board, "facts": [*board["facts"], ["measured from", told]]}


def _keep_out(keep_out: KeepOut) -> Json:
    """Return a circle by centre and radius, any other by its rings."""
    if keep_out.is_circle:
        x, y, radius = keep_out.bounding_circle
        return {"kind": str(keep_out.kind), "circle": [*flat((x, y)), round(radius, 3)]}
    return {"kind": str(keep_out.kind), "rings": rings(keep_out.polygon)}


def _opened(nest: Nest, account: BoardAccount, folio: Folio) -> Json:
    unit, base = folio.job.unit, folio.bases[nest.board.name]
    places = base.measured(np.array([(b.x_mm, b.y_mm) for b in account.bungs]).reshape(-1, 2))
    return {
        "sheet": folio.sheets.get(nest.board.name),
        "bungs": [
            {"at": flat((b.x_mm, b.y_mm)), "size": b.diameter_mm, "piece": b.part,
             "told": exact_length(b.diameter_mm, unit),
             "along": format_length(x, unit), "across": format_length(y, unit)}
            for b, (x, y) in zip(account.bungs, places.tolist(), strict=True)
        ],
        "offcuts": [
            {"box": flat((o.x_mm, o.y_mm, o.length_mm, o.width_mm)),
             "told": size_text(o.length_mm, o.width_mm, unit),
             "holds": ", ".join(counted(n, k) for k, n in o.defect_counts.items()) or "clear"}
            for o in account.offcuts
        ],
        "shares": {
            name: round(account.area.percent(name), 1)
            for name in ("parts", "offcuts", "defects", "kerf_and_trim", "oddments")
        },
        "scrap": f"{account.scrap_percent:.1f}",
        "cuts": cuts_data(nest, account, base, folio.job.rules, unit),
    }  # fmt: skip


# ---- needs and pieces -------------------------------------------------------------------------


def _need(need: Need, unit: Unit) -> Json:
    outline = need.outline
    seen = thinned(outline.shape)  # nobody sees more on a screen
    return {
        "part": need.part,
        "family": need.family,
        "system": system_of(need.family),
        "rings": rings(seen),
        "spots": _spots(seen),
        "grain": [] if outline.grain.is_straight else flat(outline.grain.points),
        "grainDeg": round(outline.middle_grain_deg, 3),
        "zones": [{"rings": rings(z.region), "label": z.label} for z in outline.bearing_zones],
        "marks": [_mark(mark) for mark in outline.marks],
        "bevels": _bevels(outline.bevels, unit),
        "notes": list(need.notes),
        "facts": [
            ["finished size", size_text(outline.length_mm, outline.width_mm, unit)],
            [outline.thickness_word, exact_length(outline.siding_mm, unit)],
            ["woods accepted", " or ".join(need.species)],
            ["old holes", _HOLES[str(need.holes)]],
            ["slope of grain", f"1 in {outline.slope_of_grain:g} at most"],
        ],
    }


_HOLES = {
    "clear": "none: clear wood only",
    "plugged": "may be in it, plugged",
    "hidden": "may be in it, plugged; stain and surface checks too",
}


def _mark(mark: Mark) -> Json:
    size = None if mark.diameter_mm is None else round(mark.diameter_mm, DIGITS)
    return {"kind": str(mark.kind), "line": flat(mark.points), "label": mark.label, "size": size}


def _bevels(bevels: Iterable[Bevel], unit: Unit) -> list[list[str]]:
    """Return edge, where along it, and bevel in words."""
    return [
        [
            bevel.edge,
            "all along" if bevel.along_mm is None
            else f"{format_length(bevel.along_mm, unit)} from {bevel.along_from}",
            _bevel(bevel.angle_deg),
        ]
        for bevel in bevels
    ]  # fmt: skip


def _bevel(angle_deg: float) -> str:
    if abs(angle_deg) < SQUARE_DEG:
        return "square"
    return f"{abs(angle_deg):.1f}\u00b0 {'standing' if angle_deg > 0 else 'under'}"


def _placed(folio: Folio, needs: dict[str, int]) -> Iterator[Json]:
    """Yield the pieces that lie on boards, numbered on each as on its cut sheet."""
    pairs = zip(folio.plan.nests, folio.account.boards, strict=True)
    for board, (nest, account) in enumerate(pairs):
        rows = zip(nest.placements, account.pieces, strict=True)
        base = folio.bases[nest.board.name]
        for number, (placement, strength) in enumerate(rows, start=1):
            yield {
                "need": needs[placement.need.part],
                "label": placement.label,
                "board": board,
                "number": number,
                "place": _place(placement),
                "mirrored": placement.is_mirrored,
                "facts": _facts(placement, strength, account, folio.job.unit, base),
            }


def _place(placement: Placement) -> list[float]:
    """Return the matrix a, b, c, d, e, f that lays the outline on its board (SVG 2, 8.5)."""
    frame = placement.to_board(np.array([[0.0, 0.0], [1.0, 0.0], [0.0, 1.0]]))
    origin, x, y = frame[0], frame[1] - frame[0], frame[2] - frame[0]
    return [*(round(float(n), 9) for n in (*x, *y)), *(round(float(n), 4) for n in origin)]


def _facts(
    placement: Placement,
    strength: PieceStrength,
    account: BoardAccount,
    unit: Unit,
    base: BaseLine,
) -> list[list[str]]:
    low_x, low_y, high_x, high_y = base.reach_of(placement.polygon)
    bungs = [bung.diameter_mm for bung in account.bungs if bung.part == placement.label]
    sizes = ", ".join(
        f"{bungs.count(size)} of {exact_length(size, unit)}" for size in sorted(set(bungs))
    )
    return [
        ["along the base line", f"{format_length(low_x, unit)} to {format_length(high_x, unit)}"],
        ["across from it", f"{format_length(low_y, unit)} to {format_length(high_y, unit)}"],
        ["marked face", placement.marked_face],
        ["bungs", sizes or "none"],
        *_strength_facts(strength),
    ]


def _strength_facts(strength: PieceStrength) -> list[list[str]]:
    """Return what grain and holes leave of a piece; of sheet goods the grain is not reckoned."""
    share = f"{whole_percent(strength.left)} %"
    if strength.is_sheet:
        return [["bending strength left", f"{share} by its holes; its plies are not reckoned"]]
    return [
        ["grain runs out", f"{run_text(strength.run)} at the steepest"],
        ["bending strength left", f"{share} of clear, straight-grained wood"],
    ]


def _missing(folio: Folio, needs: dict[str, int]) -> Iterator[Json]:
    """Yield the pieces that no board gives."""
    taken = {placement.piece for nest in folio.plan.nests for placement in nest.placements}
    for left in folio.plan.unplaced:
        wanted = (Placement(left.need, 0.0, 0.0, copy=k + 1) for k in range(left.need.quantity))
        lacking = [piece for piece in wanted if piece.piece not in taken][: left.count]
        taken.update(piece.piece for piece in lacking)
        for piece in lacking:
            yield {
                "need": needs[left.need.part], "label": piece.label, "board": None,
                "number": None, "place": None, "mirrored": piece.is_mirrored,
                "facts": [["no board", str(left.reason)]],
            }  # fmt: skip
