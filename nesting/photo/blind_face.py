"""Patches of a face on which holes would not be seen: burnt out by light, or as dark as ink."""

from __future__ import annotations

from collections.abc import Iterable, Iterator
from dataclasses import dataclass, replace

import numpy as np
import shapely
from shapely.geometry import Polygon
from shapely.geometry.base import BaseGeometry

from nesting.errors import PhotographError
from nesting.photo.board_face import MARGIN_MM, Face
from nesting.photo.opencv import opencv
from nesting.photo.plan_view import Mask, PlanView
from nesting.photo.round_finds import LISTED, SURE, Find, too_dark

MOST_BURNT_FACE = 0.3
"""Share of a face that light has burnt out: more makes no board."""

MOST_BLACK = 0.3
"""Share of a face as dark as ink from which on all of it is one patch: ragged black hides holes
between its patches too. Its edge is seen against lighter ground all the same: of six rendered
boards the worst place lay 0.8 to 8.1 mm off, as told, the middle one 0.3 mm."""

PATCH_MM = 25.0
"""Patches narrower than this are let pass: holes beside them tell the row."""

BURNT = 252
"""From this shade on, of 255 and in all three colours, light has burnt out what is there."""

CELL_MM = 3.0


@dataclass(frozen=True)
class Blind:
    """A patch of the face in the board's frame, mm, and why holes would not be seen there."""

    shape: Polygon
    why: str
    cure: str = "look at the wood"


BY_LIGHT, BY_DARK = "burnt out by light", "nearly as dark as the marks' ink"


def blind_patches(face: Face, outline: Polygon, ink: float) -> tuple[Blind, ...]:
    """Return the patches of a face on which holes would not be seen, along the board; one that is
    all of it where much is black.

    ``outline``: the board's, in its own frame;
    ``ink``: how light the marks' black is in the picture; a hole is about as dark.

    Raises
    ------
    PhotographError
        If light has burnt out much of the face.
    """
    step = max(1, round(CELL_MM / face.mm))
    wood = face.wood[::step, ::step]
    masks = {
        BY_LIGHT: (face.picture[::step, ::step].min(axis=2) >= BURNT) & wood,
        BY_DARK: too_dark(face, ink)[::step, ::step] & wood,
    }
    shares = {why: float(mask.sum() / max(1, wood.sum())) for why, mask in masks.items()}
    if shares[BY_LIGHT] > MOST_BURNT_FACE:
        raise PhotographError(
            f"glare hides {100 * shares[BY_LIGHT]:.0f} % of the face; turn the board or the camera "
            "so that no light is mirrored, or shade it"
        )
    if shares[BY_DARK] > MOST_BLACK:
        return (_black(outline, shares[BY_DARK]),)
    found = [
        Blind(part, why)
        for why, mask in masks.items()
        for shape in _shapes(face, mask)
        for part in shapely.get_parts(shape.intersection(outline))
        if isinstance(part, Polygon) and not part.is_empty
    ]
    return tuple(sorted(found, key=lambda one: one.shape.bounds[0]))


def _black(outline: Polygon, share: float) -> Blind:
    """Return a whole face as one patch."""
    return Blind(
        Polygon(outline.exterior),
        f"{100 * share:.0f} % is {BY_DARK}",
        "rub chalk flat over it, so that they stay dark, and photograph it again, or look at the "
        "wood; hold its width against a tape too, a shadow beside it is as dark",
    )


def unsure_in(patches: tuple[Blind, ...], finds: Iterable[Find]) -> Iterator[Find]:
    """Yield finds, those that are not sure and lie in a patch as remarks: all of it is told."""
    whole = shapely.union_all([one.shape for one in patches])
    for find in finds:
        is_told = find.confidence < SURE and shapely.intersects_xy(whole, find.x, find.y)
        yield replace(find, confidence=round(LISTED * find.confidence, 2)) if is_told else find


MOST_BURNT = 0.02
"""Share of what is seen, paper left out: where more is burnt out and no board is found, that is
why."""


def require_not_burnt(plan: PlanView) -> None:
    """Refuse a picture with much glare in it: of one in which no board was found."""
    use = plan.seen & ~plan.paper
    burnt = float(np.mean(plan.picture[use].min(axis=1) >= BURNT)) if use.any() else 0.0
    if burnt > MOST_BURNT:
        raise PhotographError(
            f"glare: {100 * burnt:.0f} % of what is seen is burnt out by light, and no board can "
            "be told there; turn the board or the camera so that no light is mirrored, or shade it"
        )


def _shapes(face: Face, mask: Mask) -> Iterator[BaseGeometry]:
    """Yield the shapes of patches that are no narrower than ``PATCH_MM``, in the board's frame."""
    cv2 = opencv()
    step = max(1, round(CELL_MM / face.mm))
    mm = step * face.mm
    close, disc = (
        cv2.getStructuringElement(cv2.MORPH_ELLIPSE, (size, size))
        for size in (3, int(PATCH_MM / mm) | 1)
    )
    whole = cv2.morphologyEx(mask.astype(np.uint8), cv2.MORPH_CLOSE, close)
    kept = cv2.morphologyEx(whole, cv2.MORPH_OPEN, disc)
    rings, _ = cv2.findContours(kept, cv2.RETR_EXTERNAL, cv2.CHAIN_APPROX_SIMPLE)
    for ring in rings:
        columns, rows = ring[:, 0, :].astype(float).T
        at = np.column_stack([columns * mm, face.high_mm - rows * mm]) - MARGIN_MM
        yield shapely.simplify(Polygon(at).buffer(mm), mm)


def notes_of(patches: tuple[Blind, ...], first: int) -> tuple[str, ...]:
    """Return a sentence for each patch, numbered from ``first``."""
    return tuple(
        f"face {number}, {max(0.0, one.shape.bounds[0]):.0f} to {one.shape.bounds[2]:.0f} mm from "
        f"the left end: {one.why}, holes would not show; {one.cure}"
        for number, one in enumerate(patches, first)
    )
