"""What to order, in words and in a project's units: for the terminal and for machines."""

from __future__ import annotations

import math
from collections.abc import Sequence
from typing import TYPE_CHECKING, Any

from nesting.accounts.buying import ToBuy
from nesting.accounts.rough_pieces import Piece
from nesting.new_timber_rules import LONGEST_MM, NewTimberRules
from nesting.units import MM_PER_INCH, Unit, board_feet
from nesting.work import Step
from nesting.written_measures import exact_length, format_area, format_length
from parts.wood.sold_as import Form

if TYPE_CHECKING:
    from nesting.accounts.new_timber import Group, NewPlank, SortedOut, TooWide

PREPARING = "preparing (a first run compiles its kernels)"

CLEAR_WOOD = (
    "Rough sizes. The lengths hold for wood without knots, sapwood and splits; no plank of this "
    "width can be shorter than is said."
)


def heading(line: ToBuy, unit: Unit) -> str:
    """Return what is ordered in one line: wood, form, thickness, volume and waste, or area."""
    others = f" (or {' or '.join(line.others)})" if line.others else ""
    pieces = sum(piece.pieces for piece in line.pieces)
    thick = thickness(line.thickness_mm, unit)
    if line.order_mm3 is None or line.waste_percent is None:
        return f"{line.species}{others}, {counted(pieces, 'grown crook')}, {thick} thick"
    if line.form is Form.SHEET:
        area = format_area(line.order_mm2, unit)
        exact = exact_length(line.thickness_mm, unit)
        return f"{line.species}{others}, {line.form} {exact} thick: {area} of pieces"
    kind = "" if line.form is Form.SAWN else ", to be glued up of lamellae"
    return (
        f"{line.species}{others}, sawn timber {thick}{kind}: {volume(line.order_mm3, unit)}, "
        f"{line.waste_percent:.0f} % of it waste"
    )


def size(piece: Piece, form: Form, unit: Unit) -> str:
    """Return the rough size of each piece for a part: width and length, or a crook's bend."""
    wide, long = (format_length(side, unit) for side in (piece.width_mm, piece.length_mm))
    bend = piece.bend
    if bend is None:
        return f"{wide} x {long}" + (f", resawn into {piece.leaves}" if piece.leaves > 1 else "")
    if form is Form.LAMINATION:
        return f"{wide} x {long}, ripped into {_lamellae(piece, unit)}"
    if piece.arms_mm:
        arms = " and ".join(format_length(arm, unit) for arm in piece.arms_mm)
        angle = f"their grain at {bend.angle_deg:.0f} degrees"
        return f"arms {arms} along the middle, {angle}, {wide} deep at the bend"
    sweep = format_length(bend.sweep_mm, unit)
    return f"{long} with a sweep of {sweep}, {wide} deep"


def several(part: str, count: int) -> str:
    """Return a part's name, with how many of it where there are several.

    >>> several("strake", 1), several("strake", 3)
    ('strake', 'strake x 3')
    """
    return f"{part} x {count}" if count > 1 else part


def remarks(piece: Piece, form: Form, unit: Unit) -> str:
    """Return what a buyer should know of a part's pieces; empty if nothing."""
    glued = piece.lamellae is not None and form is Form.CROOK
    more = [f"or glued up of {_lamellae(piece, unit)}"] if glued else []
    return "; ".join([*more, *piece.remarks])


def _lamellae(piece: Piece, unit: Unit) -> str:
    assert piece.lamellae is not None, "asked only where there are some"
    thick = exact_length(piece.lamellae.thickness_mm, unit)
    return f"{piece.lamellae.count} lamellae of {thick}"


def allowances(new: NewTimberRules, unit: Unit) -> str:
    """Return what is added to the parts' sizes to make the rough ones."""
    face, edge, end = (
        format_length(taken, unit) for taken in (new.planing_mm, new.edge_mm, new.end_mm)
    )
    return (
        f"Sizes of timber are rough, as sold: {face} comes off each face, {edge} off each edge and "
        f"{end} off each end besides the trim, and {new.defects_percent:g} % more sawn timber is "
        "ordered for knots, sapwood and splits (rules: new_timber). How woods are sold is from "
        "memory: ask."
    )


def as_data(line: ToBuy) -> dict[str, Any]:
    """Return what is ordered in one line for a machine; lengths in mm."""
    return {
        "species": line.species,
        "other_species": list(line.others),
        "sold_as": str(line.form),
        "thickness_mm": line.thickness_mm,
        "pieces": [_piece_data(piece) for piece in line.pieces],
        "net_m3": line.net_mm3 * 1e-9,
        "order_m3": None if line.order_mm3 is None else line.order_mm3 * 1e-9,
        "order_board_feet": line.order_board_feet,
        "waste_percent": line.waste_percent,
        "remarks": list(line.remarks),
    }


def at_least(mm: float, unit: Unit) -> str:
    """Return a length rounded up, so that what is read off it will do.

    >>> at_least(101.2, Unit.MM), at_least(101.2, Unit.INCH)
    ('102 mm', '4 in')
    """
    step = MM_PER_INCH / 16 if unit.is_imperial else 1.0
    return format_length(math.ceil(mm / step - 1e-6) * step, unit)


def at_most(mm: float, unit: Unit) -> str:
    """Return a length rounded down, so that what is proven is not more than was proven.

    >>> at_most(101.8, Unit.MM), at_most(103.1, Unit.INCH)
    ('101 mm', '4 in')
    """
    step = MM_PER_INCH / 16 if unit.is_imperial else 1.0
    return format_length(math.floor(mm / step + 1e-6) * step, unit)


def notes_before(found: SortedOut, unit: Unit) -> list[str]:
    """Return what is left out of a search for planks, to be said before it begins."""
    notes = [
        f"{part.part} wants a plank of {at_least(part.least_width_mm, unit)} or wider: left out"
        for part in found.too_wide
    ]
    for line in found.not_planks:
        names = ", ".join(several(piece.part, piece.count) for piece in line.pieces)
        notes.append(f"{names}: bought as {line.form}, not out of a straight plank")
    return notes


def too_narrow(parts: Sequence[TooWide], given: str, unit: Unit) -> str:
    """Return what is wrong with a width that no part fits, naming the parts."""
    named = ", ".join(f"{p.part} {at_least(p.least_width_mm, unit)}" for p in parts)
    return f"--width {given} is too narrow for every part left over; the least that do: {named}"


def too_long(planks: Sequence[NewPlank], unit: Unit) -> list[str]:
    """Return which planks are longer than any that is usually sold, each as a sentence."""
    longest = format_length(LONGEST_MM, unit)
    return [
        f"{plank.species} {thickness(plank.thickness_mm, unit)} is longer than the {longest} that "
        "boards seldom pass: it comes in several, and what is longer is scarfed."
        for plank in planks
        if plank.length_mm > LONGEST_MM
    ]


def plank_step(groups: Sequence[Group], at: Group, length: float | None, *, unit: Unit) -> Step:
    """Return how far a search for planks has come: at which, and its length so far."""
    so_far = f"{format_length(length, unit)} so far" if length is not None else PREPARING
    name = f"{at[0]} {thickness(at[1], unit)}"
    return Step(f"plank {groups.index(at) + 1} of {len(groups)}, {name}: {so_far}")


def plank_data(planks: Sequence[NewPlank], found: SortedOut) -> dict[str, Any]:
    """Return the planks, what is bought otherwise and what is too wide, for a machine."""
    return {
        "planks": [_plank_data(plank) for plank in planks],
        "not_planks": [as_data(line) for line in found.not_planks],
        "too_wide": [
            {"part": part.part, "count": part.count, "least_width_mm": part.least_width_mm}
            for part in found.too_wide
        ],
    }


def _plank_data(plank: NewPlank) -> dict[str, Any]:
    return {
        "species": plank.species,
        "thickness_mm": plank.thickness_mm,
        "width_mm": plank.width_mm,
        "length_mm": plank.length_mm,
        "least_length_mm": plank.least_length_mm,
        "rough_m3": plank.rough_mm3 * 1e-9,
        "board_feet": plank.board_feet,
        "net_m3": plank.net_mm3 * 1e-9,
        "waste_percent": plank.waste_percent,
        "wants": list(plank.wants),
        "parts": [{"part": part, "count": count} for part, count in plank.parts],
    }


def _piece_data(piece: Piece) -> dict[str, Any]:
    bend, glued = piece.bend, piece.lamellae
    return {
        "part": piece.part,
        "count": piece.count,
        "finished_thickness_mm": piece.finished_mm,
        "pieces": piece.pieces,
        "length_mm": piece.length_mm,
        "width_mm": piece.width_mm,
        "leaves": piece.leaves,
        "arms_mm": list(piece.arms_mm),
        "turn_deg": None if bend is None else bend.turn_deg,
        "sweep_mm": None if bend is None else bend.sweep_mm,
        "lamellae": None if glued is None else [glued.count, glued.thickness_mm],
        "remarks": list(piece.remarks),
    }


def thickness(mm: float, unit: Unit) -> str:
    """Return a rough thickness as it is asked for: 8/4 (2 in), or 50 mm.

    >>> thickness(50.8, Unit.INCH), thickness(50.0, Unit.MM)
    ('8/4 (2 in)', '50 mm')
    """
    quarters = mm / MM_PER_INCH * 4
    whole = format_length(mm, unit)
    is_quarters = unit.is_imperial and abs(quarters - round(quarters)) < 1e-6
    return f"{round(quarters)}/4 ({whole})" if is_quarters else whole


def volume(mm3: float, unit: Unit) -> str:
    """Return a volume as timber is sold: board feet, or cubic metres."""
    return f"{board_feet(mm3, 1.0):.1f} board feet" if unit.is_imperial else f"{mm3 * 1e-9:.4f} m3"


def counted(number: int, thing: str) -> str:
    """Return a number of things.

    >>> counted(1, "plank"), counted(2, "plank")
    ('1 plank', '2 planks')
    """
    return f"{number} {thing}" if number == 1 else f"{number} {thing}s"
