"""One line of the parts list: an outline, how many, and what wood it accepts."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, field, replace
from enum import StrEnum
from typing import Any, Protocol

from nesting.errors import ShapeError
from nesting.given import finite, made, remark, several, text, texts, whole, word, yes_or_no
from nesting.outline import SAME_DEG, Outline
from nesting.piece_names import piece_name
from nesting.rules import TOUCH_MM, Rules
from nesting.stock.board import Board, moisture
from nesting.stock.keep_out import KeepOut, KeepOutKind
from nesting.units import Unit, board_feet
from nesting.unseen import quoted, same_letters


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
    OFF_GRAIN = "no such board that is large enough has grain that follows its own"
    TOO_LONG = "too long or too wide for any such board"
    NO_CLEAR_WOOD = "no clear wood large enough on any such board"
    NO_ROOM = "no room was found for it on the wood that fits it"
    WISHED = "a wish keeps it off every board that fits it"
    LATER = "not needed yet: wood for it is in view"


LEAST_PART_MM = 3.0
"""What is narrower than a usual saw's cut is no part (common practice, no source)."""

MOST_OF_ONE = 10_000
"""Pieces of one part; more is a slip of the pen."""


class Outlined(Protocol):
    """Anything that gives a flat shape to be sawn: a part of a family, or one of your own."""

    def outline(self) -> Outline:
        """Return the flat shape."""
        ...


@dataclass(frozen=True, repr=False)
class Need:
    """What a project wants of one outline; :meth:`of` makes one of a part.

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
    hands
        Sides of the boat that it is wanted for, one for each of its places; none if it knows none.
    mirrored
        Whether each copy is the outline's mirror image; none if all are as drawn.
    in_all, still
        How many there are in all and the numbers of those still wanted, where some were sawn
        before; ``quantity`` is how many those are.
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
    hands: tuple[str, ...] = ()
    mirrored: tuple[bool, ...] = ()
    in_all: int | None = None
    still: tuple[int, ...] = ()

    def __post_init__(self) -> None:
        object.__setattr__(self, "part", same_letters(text(self.part, "the part's name")))
        made(self.outline, Outline, f"{self.part}: the outline", "Need.of() takes a part")
        object.__setattr__(self, "quantity", whole(self.quantity, "the quantity", least=1))
        if self.quantity > MOST_OF_ONE:
            raise ShapeError(
                f"the quantity is {quoted(self.quantity)}, must be {MOST_OF_ONE} at the most"
            )
        remark(self.family, f"{self.part}: its family")
        if self.value is not None:
            object.__setattr__(self, "value", finite(self.value, "the value", least=0.0))
        if self.plugs_per_metre is not None:
            whole(self.plugs_per_metre, "plugs_per_metre", least=0)
        if self.in_all is not None:
            whole(self.in_all, "in_all", least=0)
        if self.moisture_percent is not None:
            object.__setattr__(self, "moisture_percent", _moisture(self.moisture_percent))
        for name in ("heartwood_only", "is_plank"):
            object.__setattr__(self, name, yes_or_no(getattr(self, name), name))
        for name in ("species", "not_from", "notes", "hands"):
            object.__setattr__(self, name, texts(getattr(self, name), name))
        object.__setattr__(self, "mirrored", several(self.mirrored, bool, "mirrored"))
        object.__setattr__(self, "holes", word(self.holes, Holes, "holes"))
        object.__setattr__(self, "still", several(self.still, int, "still"))
        if self.still and len(self.still) != self.quantity:
            raise ShapeError(f"{len(self.still)} pieces are still wanted, not {self.quantity}")
        if not self.species:
            raise ShapeError("a part must accept at least one species")

    @classmethod
    def of(
        cls,
        name: str,
        part: Outlined | Outline,
        species: Sequence[str],
        *,
        quantity: int = 1,
        holes: Holes | str = Holes.CLEAR,
        run_out: float | None = None,
        unit: Unit | str = Unit.MM,
        notes: Sequence[str] = (),
        **more: Any,
    ) -> Need:
        """Return what is wanted of a part.

        Parameters
        ----------
        name
            Unique among the needs of a plan; it is written on the sheets.
        part
            A part, or an outline alone. A part that knows its places in the boat is wanted once
            for each, and one glued up of lamellae for each of them so often.
        species
            Woods that it accepts, best first.
        holes
            ``"clear"`` wood only, ``"plugged"`` old holes, or ``"hidden"`` faces.
        run_out
            Steepest that grain may run out of it, 1 in so many; no limit if not given.
        unit
            In which the part's own remarks tell lengths.
        more
            Any other attribute of a need: ``value``, ``not_from``, ``heartwood_only``, ...

        Raises
        ------
        ShapeError
            If a value cannot be, or the piece is too small to be sawn.

        Examples
        --------
        >>> from shapely.geometry import box
        >>> Need.of("cleat", Outline(box(0, 0, 300, 60), 25), ["teak"], quantity=2)
        Need('cleat', 2 of 300 x 60 mm, 25 mm thick, of teak)
        """
        unit = word(unit, Unit, "unit")
        if isinstance(part, type):
            kind = part.__name__
            raise ShapeError(
                f"{name}: the part is the class {kind}, must be one made of it: {kind}(...)"
            )
        if not isinstance(part, Outline) and not callable(getattr(part, "outline", None)):
            hint = "part_from_outline() makes a part of a shape's points"
            made(part, Outline, f"{name}: the part", hint)
        outline = part if isinstance(part, Outline) else part.outline()
        made(outline, Outline, f"{name}: the outline", "outline() of a part must return one")
        outline = replace(
            outline, run_out_limit=outline.run_out_limit if run_out is None else run_out
        )
        _check_size(outline)
        places, pieces, remarks = _said_by(part, unit)
        return cls(
            part=name,
            family=str(getattr(part, "family", "")),
            outline=outline,
            species=texts(species, "species"),
            quantity=(places or whole(quantity, "the quantity")) * pieces,
            holes=word(holes, Holes, "holes"),
            notes=(*texts(notes, "notes"), *remarks),
            is_plank=bool(more.pop("is_plank", getattr(part, "is_plank", False))),
            hands=part.hands() if hasattr(part, "hands") else (),
            mirrored=_mirrored(part, pieces),
            **more,
        )

    def __repr__(self) -> str:
        o = self.outline
        size = f"{o.length_mm:g} x {o.width_mm:g} mm, {o.siding_mm:g} mm thick"
        return f"Need({self.part!r}, {self.quantity} of {size}, of {' or '.join(self.species)})"

    def number_of(self, copy: int) -> int:
        """Return the number, among all pieces that there ever were, of one still wanted."""
        return self.still[copy - 1] if 1 <= copy <= len(self.still) else copy

    def of_these(self, numbers: Sequence[int]) -> Need:
        """Return the need with some of the pieces that are still wanted, by their numbers."""
        still = tuple(numbers) if self.still else ()
        return replace(self, quantity=len(numbers), still=still)

    def copy_of(self, number: int) -> int | None:
        """Return which copy of those still wanted has a number among all; None if it has none."""
        if self.still:
            return self.still.index(number) + 1 if number in self.still else None
        return number if 1 <= number <= self.quantity else None

    def called(self, number: int) -> str:
        """Return what the piece of a number, among all that there ever were, is called."""
        return piece_name(
            self.part, number, self.in_all or self.quantity, self.hands, self.mirrored
        )

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
        """Return whether a keep-out may lie in this part, closed by a bung.

        One that cleaning up planes away wants none.
        """
        if self.holes is Holes.CLEAR or rules.is_planed_away(keep_out):
            return False
        return rules.plug_for(keep_out) is not None

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


def _moisture(given: Any) -> tuple[float, float]:
    """Return a range of moisture, low and high."""
    pair = given if isinstance(given, list | tuple) else ()
    if len(pair) != 2:
        raise ShapeError(f"moisture_percent is {quoted(given)}, must be low and high: (10, 18)")
    low, high = (moisture(each, "each of moisture_percent") for each in pair)
    if low > high:
        raise ShapeError(f"moisture_percent goes from {low:g} to {high:g}: low before high")
    return low, high


def _check_size(outline: Outline) -> None:
    """Refuse what no saw can make, and no drawing shows; most often the unit is wrong."""
    least = min(outline.length_mm, outline.width_mm)
    if least < LEAST_PART_MM:
        raise ShapeError(
            f"the piece comes out {outline.length_mm:g} x {outline.width_mm:g} mm; it must be "
            f"{LEAST_PART_MM:g} mm or more each way: is the unit right?"
        )


def _said_by(part: Any, unit: Unit) -> tuple[int, int, tuple[str, ...]]:
    """Return a part's places in the boat, the pieces of each and remarks, of what it knows."""
    places = len(part.positions()) if hasattr(part, "positions") else 0
    pieces = part.pieces() if hasattr(part, "pieces") else 1
    return places, pieces, part.remarks(unit) if hasattr(part, "remarks") else ()


def _mirrored(part: Any, pieces: int) -> tuple[bool, ...]:
    """Return whether each piece is a part's mirror image; none if no place of it asks for that."""
    places = part.positions() if hasattr(part, "positions") else ()
    hands = [bool(getattr(place, "is_mirrored", False)) for place in places]
    return tuple(hand for hand in hands for _ in range(pieces)) if any(hands) else ()
