"""One rule at a time given up, and the engine asked whether a board would then hold a part.

Each finding is a statement about one board that was tried, so it is true; that nothing was
found is no proof, for only a few boards are tried for each rule.
"""

from __future__ import annotations

from collections.abc import Callable, Iterator, Sequence
from dataclasses import replace
from functools import partial

from shapely import affinity

from nesting.engine.search.trials import MOST_BOARDS, Trial, Wood, first_cure, with_room
from nesting.engine.stop import never
from nesting.grain import GrainPath
from nesting.left_over import Cure, Remedy
from nesting.need import Holes, Misfit, Need
from nesting.outline import Outline
from nesting.rules import LARGEST_PLUG_MM, TOUCH_MM, Rules
from nesting.sheet_goods import is_sheet_goods
from nesting.stock.board import Board
from nesting.stock.keep_out import PLUGGABLE, PLURALS, KeepOut, KeepOutKind
from nesting.units import MM_PER_INCH

SLOPES = (10.0, 8.0, 6.0, 5.0, 4.0)
"""Slopes of grain tried, 1 in so many, the flattest last found. Steeper grain is no cure: at 1 in 4
less than half of the bending strength is left (Hankinson's formula, ``parts.wood.cross_grain``)."""

SMALLEST, HALVINGS = 0.5, 5
"""A part is tried down to this share of its length or width, and the share halved so often."""

BUNG_STEP_MM = MM_PER_INCH / 32
"""Bungs are told to the next 1/32 in, or the next 0.1 mm."""

HOLES = "old holes"
FLAWS = tuple(
    sorted(set(KeepOutKind) - PLUGGABLE, key=lambda kind: (kind is KeepOutKind.METAL, kind.value))
)
"""Kinds that no bung mends, metal last: much of it can be drawn (another cure)."""


def remedies(
    need: Need,
    woods: Sequence[Wood],
    rules: Rules,
    *,
    is_resized: bool,
    is_over: Callable[[], bool] = never,
) -> tuple[Remedy, ...]:
    """Return what would let one of some boards hold a need, each rule once.

    ``is_resized``: smaller parts are tried too. Rules that are not asked by the time that
    ``is_over`` says so are left out.
    """
    woods = sorted(woods, key=lambda wood: (-wood.free_mm2, wood.board.name))
    found: list[Remedy] = []
    for cure_of in (*CURES, *(RESIZED if is_resized else ())):
        if is_over():
            break
        found += cure_of(need, woods, rules)
    return tuple(found)


def _holed(woods: Sequence[Wood]) -> list[Wood]:
    return [w for w in woods if any(k.kind in PLUGGABLE for k in w.board.keep_outs)]


def _tolerance(need: Need, woods: Sequence[Wood], rules: Rules) -> list[Remedy]:
    """Try a part that tolerates more."""
    steps = {
        Holes.CLEAR: ((Cure.PLUGGED, Holes.PLUGGED), (Cure.HIDDEN, Holes.HIDDEN)),
        Holes.PLUGGED: ((Cure.HIDDEN, Holes.HIDDEN),),
        Holes.HIDDEN: (),
    }[need.holes]
    for cure, holes in steps:
        more = replace(need, holes=holes)
        marked = [
            w for w in woods if any(_tolerates(more, need, k, rules) for k in w.board.keep_outs)
        ]
        found = first_cure(Trial(cure, more, wood, rules) for wood in marked)
        if found:
            return found
    return []


def _tolerates(more: Need, less: Need, keep_out: KeepOut, rules: Rules) -> bool:
    def may(need: Need) -> bool:
        return need.ignores(keep_out, rules) or need.may_plug(keep_out, rules)

    return may(more) and not may(less)


def _bungs(need: Need, woods: Sequence[Wood], rules: Rules) -> list[Remedy]:
    """Try the rules on bungs, one after another."""
    if need.holes is Holes.CLEAR:
        return []
    woods = _holed(woods)
    bare = replace(need, outline=replace(need.outline, bearing_zones=()))
    many = replace(need, plugs_per_metre=10**6)
    near = replace(rules, plug_edge_mm=0.0)
    found = []
    if need.outline.bearing_zones:
        found += first_cure(Trial(Cure.ZONES, bare, wood, rules) for wood in woods)
    if rules.plug_edge_mm > 0:
        edge = rules.plug_edge_mm
        found += first_cure(Trial(Cure.EDGES, need, wood, near, edge) for wood in woods)
    found += first_cure(Trial(Cure.A_METRE, many, wood, rules) for wood in woods)
    return found + first_cure(_larger_bungs(need, woods, rules))


def _larger_bungs(need: Need, woods: Sequence[Wood], rules: Rules) -> Iterator[Trial]:
    """Try bungs a step larger than what is told, which is rounded up by no more.

    A hole that is too large for any bung, as a long slot is, stays a keep-out.
    """
    for wood in woods:
        holes = (
            2 * k.bounding_circle[2] + rules.reaming_mm
            for k in wood.board.keep_outs
            if k.kind in PLUGGABLE and rules.plug_for(k) is None
        )
        open_holes = [hole for hole in holes if hole + BUNG_STEP_MM <= LARGEST_PLUG_MM]
        if open_holes:
            size = max(open_holes)
            larger = replace(rules, plug_sizes_mm=(*rules.plug_sizes_mm, size + BUNG_STEP_MM))
            yield Trial(Cure.SIZES, need, wood, larger, size)


def _metal(need: Need, woods: Sequence[Wood], rules: Rules) -> list[Remedy]:
    """Try boards whose metal is drawn, which leaves holes of its size."""
    return first_cure(
        Trial(Cure.METAL, need, _with(wood, _drawn), rules)
        for wood in woods
        if any(k.kind is KeepOutKind.METAL for k in wood.board.keep_outs)
    )


def _with(wood: Wood, change: Callable[[KeepOut], KeepOut | None]) -> Wood:
    changed = (change(keep_out) for keep_out in wood.board.keep_outs)
    kept = tuple(keep_out for keep_out in changed if keep_out is not None)
    return replace(wood, board=replace(wood.board, keep_outs=kept))


def _drawn(keep_out: KeepOut) -> KeepOut:
    is_metal = keep_out.kind is KeepOutKind.METAL
    return replace(keep_out, kind=KeepOutKind.HOLE) if is_metal else keep_out


def _flaws(need: Need, woods: Sequence[Wood], rules: Rules) -> list[Remedy]:
    """Try boards without one kind of flaw: nothing mends it, but it is what limits."""
    kinds = {HOLES: PLUGGABLE} | {PLURALS[kind]: frozenset({kind}) for kind in FLAWS}
    found = []
    for name, those in kinds.items():
        marked = [w for w in woods if any(k.kind in those for k in w.board.keep_outs)]
        clear = partial(_unless, those)
        found += first_cure(
            Trial(Cure.FLAW, need, _with(w, clear), rules, what=name) for w in marked
        )
    return found


def _unless(kinds: frozenset[KeepOutKind], keep_out: KeepOut) -> KeepOut | None:
    return None if keep_out.kind in kinds else keep_out


def _turning(need: Need, woods: Sequence[Wood], rules: Rules) -> list[Remedy]:
    if need.outline.may_turn_over:
        return []
    free = replace(need, outline=replace(need.outline, may_turn_over=True))
    return first_cure(Trial(Cure.TURNING, free, wood, rules) for wood in woods)


def _across(need: Need, woods: Sequence[Wood], rules: Rules) -> list[Remedy]:
    """Try sheet goods with the part square to their face grain."""
    if need.outline.may_lie_across:
        return []
    either = replace(need, outline=replace(need.outline, may_lie_across=True))
    sheets = (wood for wood in woods if is_sheet_goods(wood.board.species))
    return first_cure(Trial(Cure.ACROSS, either, wood, rules) for wood in sheets)


def _slope(need: Need, woods: Sequence[Wood], rules: Rules) -> list[Remedy]:
    """Try steeper grain; where the steepest has room, the flattest that has, on any of them."""
    steeper = [slope for slope in SLOPES if slope < need.outline.slope_of_grain]
    if not steeper:
        return []
    there = with_room(_sloped(need, wood, rules, steeper[-1]) for wood in woods)
    trials = (_sloped(need, wood, rules, slope) for slope in steeper for wood in there)
    return first_cure(trials, len(steeper) * MOST_BOARDS)


def _sloped(need: Need, wood: Wood, rules: Rules, slope: float) -> Trial:
    sloped = replace(need, outline=replace(need.outline, slope_of_grain=slope))
    return Trial(Cure.SLOPE, sloped, wood, rules, slope, what=wood.board.species)


def _wood(need: Need, woods: Sequence[Wood], rules: Rules) -> list[Remedy]:
    """Try every wood that there is and that is not accepted."""
    found = []
    for name in sorted({wood.board.species for wood in woods} - set(need.species)):
        other = replace(need, species=(name,))
        found += first_cure(Trial(Cure.WOOD, other, wood, rules, what=name) for wood in woods)
    return found


def _history(need: Need, woods: Sequence[Wood], rules: Rules) -> list[Remedy]:
    """Try boards that moisture, heartwood or previous use keep out."""
    refused = [w for w in woods if need.misfit(w.board, rules) is Misfit.WRONG_WOOD]
    any_wet = replace(need, moisture_percent=None)
    any_heart, any_use = replace(need, heartwood_only=False), replace(need, not_from=())
    return (
        first_cure(
            Trial(Cure.MOISTURE, any_wet, w, rules, w.board.moisture_percent) for w in refused
        )
        + first_cure(Trial(Cure.HEARTWOOD, any_heart, w, rules) for w in refused)
        + first_cure(Trial(Cure.MEMBER, any_use, w, rules, what=w.board.member) for w in refused)
    )


def lacking(need: Need, boards: Sequence[Board], rules: Rules) -> list[tuple[float, Board]]:
    """Return by how much, mm, boards of wood that suits a need are too thin, the least first."""
    thin = [board for board in boards if need.misfit(board, rules) is Misfit.TOO_THIN]
    found = [
        (need.outline.siding_mm - rules.clean_thickness_mm(board.thickness_mm), board)
        for board in thin
    ]
    return sorted(found, key=lambda pair: (pair[0], pair[1].name))


def _thinner(need: Need, woods: Sequence[Wood], rules: Rules) -> list[Remedy]:
    wood_of = {wood.board.name: wood for wood in woods}
    return first_cure(
        Trial(Cure.THINNER, _thinned(need, lack), wood_of[board.name], rules, lack)
        for lack, board in lacking(need, [wood.board for wood in woods], rules)
        if need.outline.siding_mm - lack > TOUCH_MM
    )


def _thinned(need: Need, by_mm: float) -> Need:
    outline = replace(need.outline, siding_mm=need.outline.siding_mm - by_mm)
    return replace(need, outline=outline)


def _smaller(cure: Cure, need: Need, woods: Sequence[Wood], rules: Rules) -> list[Remedy]:
    """Try a shorter or narrower part; where the smallest has room, about the largest that has."""
    outline = need.outline
    extent = outline.length_mm if cure is Cure.SHORTER else outline.width_mm

    def trial(wood: Wood, share: float) -> Trial:
        scaled = _scaled(outline, *((share, 1.0) if cure is Cure.SHORTER else (1.0, share)))
        return Trial(cure, replace(need, outline=scaled), wood, rules, (1 - share) * extent)

    # Where it lacks least comes first: on the longest board, or the widest.
    by_side = sorted(woods, key=lambda w: (-_side(cure, w.board), w.board.name))
    there = with_room((trial(wood, SMALLEST) for wood in by_side), 2 * MOST_BOARDS)
    best = first_cure(trial(wood, SMALLEST) for wood in there)
    low, high = SMALLEST, 1.0
    for _ in range(HALVINGS if best else 0):
        middle = (low + high) / 2
        found = first_cure(trial(wood, middle) for wood in there)
        low, high, best = (middle, high, found) if found else (low, middle, best)
    return best


def _side(cure: Cure, board: Board) -> float:
    return board.length_mm if cure is Cure.SHORTER else board.width_mm


def _scaled(outline: Outline, x: float, y: float) -> Outline:
    scale = partial(affinity.scale, xfact=x, yfact=y, origin=(0.0, 0.0))
    zones = tuple(replace(zone, region=scale(zone.region)) for zone in outline.bearing_zones)
    grain = GrainPath(tuple((a * x, b * y) for a, b in outline.grain.points))
    both = None if outline.both_faces is None else scale(outline.both_faces)
    return replace(
        outline,
        shape=scale(outline.shape),
        both_faces=both,
        bearing_zones=zones,
        grain=grain,
        marks=(),
    )


CURES = (_tolerance, _bungs, _metal, _flaws, _turning, _across, _slope, _wood, _history, _thinner)
RESIZED = (partial(_smaller, Cure.SHORTER), partial(_smaller, Cure.NARROWER))
