"""Whether pieces that were sawn are still what the parts list asks for."""

from __future__ import annotations

from collections import Counter
from collections.abc import Collection, Iterator, Mapping, Sequence
from typing import Any

import numpy as np
import shapely
from numpy.typing import NDArray
from shapely.geometry import Polygon

from nesting.book.effects import Row
from nesting.book.outlines import make_known, wood_of
from nesting.errors import BookError
from nesting.words import counted

NEAR_MM = 0.2
"""Outlines of which no measure differs by more are one to a saw (common practice, no source)."""

SHARE_OF_GIRTH = 4.0
"""A girth is compared by its fourth: a length that grows by 1 mm counts as half of one."""

MEASURES = 5
"""So many measures tell an outline."""


def forms_of(shapes: Sequence[Polygon]) -> NDArray[np.float64]:
    """Return measures of outlines that no turning, turning over or moving changes.

    Returns
    -------
    (n, 5) float, mm
        Roots of the areas of the outline and of its hull, a fourth of the girth, and how far the
        girth lies from the middle: its two radii of gyration.
    """
    girth = shapely.length(shapes)
    return np.column_stack(
        [
            np.sqrt(shapely.area(shapes)),
            np.sqrt(shapely.area(shapely.convex_hull(shapes))),
            girth / SHARE_OF_GIRTH,
            np.sqrt(_second_moments(shapes) / girth[:, None]),
        ]
    )


def _second_moments(shapes: Sequence[Polygon]) -> NDArray[np.float64]:
    """Return the two principal second moments of each outline's girth about its middle.

    A straight run from p to q of length l adds l/3 (pp + qq + (pq + qp)/2) to the tensor.
    """
    rings, whose = shapely.get_rings(shapes, return_index=True)
    points, ring = shapely.get_coordinates(rings, return_index=True)
    points = points - shapely.get_coordinates(shapely.centroid(shapes))[whose[ring]]
    is_run = ring[1:] == ring[:-1]
    p, q, of = points[:-1][is_run], points[1:][is_run], whose[ring[1:][is_run]]
    length = np.hypot(*(q - p).T)

    def summed(i: int, j: int) -> NDArray[np.float64]:
        both = (p[:, i] * q[:, j] + q[:, i] * p[:, j]) / 2
        added = length / 3 * (p[:, i] * p[:, j] + q[:, i] * q[:, j] + both)
        return np.asarray(np.bincount(of, added, len(shapes)), float)

    xx, yy, xy = summed(0, 0), summed(1, 1), summed(0, 1)
    middle, half = (xx + yy) / 2, np.hypot((xx - yy) / 2, xy)
    return np.column_stack([middle + half, np.maximum(middle - half, 0.0)])


def misfits(
    pieces: Sequence[Row], wants: Mapping[str, Row], boards: Mapping[str, str]
) -> dict[int, str]:
    """Return why sound pieces of a project are not what its parts list asks for, by their numbers.

    Pieces of which somebody said that they serve are passed, as long as the list stays as it was
    then.

    Parameters
    ----------
    wants
        What the list has of each part, as :func:`nesting.book.record.want_body` makes it.
    boards
        The wood of each board.
    """
    found: dict[int, str] = {}
    known = [row for row in pieces if row["part"] in wants]
    forms = _forms([row["body"] for row in known])
    asked = _forms_of_parts(wants, {row["part"] for row in known})
    for row, form in zip(known, forms, strict=True):
        want = wants[row["part"]]
        why = _against(row, form, want, asked[row["part"]], boards[row["board"]])
        if why:
            found[row["number"]] = why
    for row in pieces:
        if row["part"] not in wants:
            found[row["number"]] = _told_off(row["part"])
    return found


def _told_off(part: str) -> str:
    return f"the parts list has no {part} any more"


def _forms(bodies: Sequence[Row]) -> NDArray[np.float64]:
    make_known(bodies)
    return forms_of([wood_of(body) for body in bodies]) if bodies else np.empty((0, MEASURES))


def _forms_of_parts(
    wants: Mapping[str, Row], parts: set[str]
) -> dict[str, NDArray[np.float64] | None]:
    """Return the forms of parts; None where the list was recorded before books kept outlines."""
    drawn = [part for part in sorted(parts) if "outline" in wants[part]]
    forms = _forms([wants[part] for part in drawn])
    return {**dict.fromkeys(parts), **dict(zip(drawn, forms, strict=True))}


def _against(
    row: Row,
    form: NDArray[np.float64],
    want: Row,
    asked: NDArray[np.float64] | None,
    species: str,
) -> str:
    """Return what speaks against a piece, empty if nothing does."""
    body = row["body"]
    if row["copy"] > want["quantity"]:
        return f"the parts list asks for only {want['quantity']} of {row['part']}"
    if asked is None or _serves(body, want, asked):
        return ""
    if not _is_near(form, asked):
        return _told_outlines(wood_of(body), wood_of(want))
    if abs(body["siding_mm"] - want["siding_mm"]) > NEAR_MM:
        return (
            f"it is {body['siding_mm']:g} mm thick, the parts list has {want['siding_mm']:g} mm now"
        )
    if species not in want["species"]:
        return f"it is of {species}, the parts list wants {' or '.join(want['species'])} now"
    return ""


def _serves(body: Row, want: Row, asked: NDArray[np.float64]) -> bool:
    """Return whether somebody said that a piece serves as what the list asks for."""
    if "serves" not in body:
        # Books did not always keep what the part was that a piece was used for.
        return bool(body["sawn_as"] != body["label"])
    serves = body["serves"]
    return serves is not None and (
        _is_near(np.array(serves["form"]), asked)
        and abs(serves["siding_mm"] - want["siding_mm"]) <= NEAR_MM
        and serves["species"] == want["species"]
    )


def _is_near(first: NDArray[np.float64], second: NDArray[np.float64]) -> bool:
    return bool(np.all(np.abs(first - second) <= NEAR_MM))


def serving(want: Row) -> dict[str, Any]:
    """Return what a piece keeps of the line of the parts list that somebody said it serves as.

    Raises
    ------
    BookError
        If the list was entered before books kept outlines.
    """
    if "outline" not in want:
        raise BookError(
            "the parts list in the book is of an older form, without outlines: enter it anew "
            "(salvage-nest book record), then say this again"
        )
    (form,) = _forms([want])
    return {
        "form": form.tolist(), "siding_mm": want["siding_mm"], "species": list(want["species"])
    }  # fmt: skip


def told_lacking(wood: Polygon, species: str, label: str, want: Row, other: str) -> str:
    """Return that a piece has not the wood of the part that it is used for, empty if it may; mm.

    What lies in an outline has no larger area than that, its hull no larger one, and it is neither
    longer over all nor at its narrowest broader. Of a list that was entered before books kept
    outlines nothing is said of them.
    """
    slip = "if that was a slip, take it back (salvage-nest book undo)"
    if species not in want["species"]:
        asked = " or ".join(want["species"])
        return f"{other} is wanted of {asked}, {label} is of {species}: {slip}"
    if "outline" not in want:
        return ""
    outline = wood_of(want)
    if np.all(_room(outline) <= _room(wood) + NEAR_MM):
        return ""
    return (
        f"{other} asks for more wood than there is: it is {_size(outline)} mm over all, {label} is "
        f"{_size(wood)} mm: {slip}"
    )


def _room(shape: Polygon) -> NDArray[np.float64]:
    """Return measures, mm, that nothing has more of than what it lies in.

    Roots of the areas of the outline and of its hull, how long it is over all, how broad at its
    narrowest: a hull is so between one of its sides and the corner farthest from that.
    """
    hull = shapely.convex_hull(shape)
    corners = shapely.get_coordinates(hull)
    along = np.diff(corners, axis=0)
    across = np.column_stack([-along[:, 1], along[:, 0]]) / np.hypot(*along.T)[:, None]
    broad = np.ptp(corners @ across.T, axis=0).min()
    apart = corners[:, None] - corners
    long = np.hypot(apart[..., 0], apart[..., 1]).max()
    return np.array([np.sqrt(shape.area), np.sqrt(hull.area), long, broad])


def _told_outlines(sawn: Polygon, asked: Polygon) -> str:
    is_so, wanted = _size(sawn), _size(asked)
    if is_so == wanted:
        return f"its outline, {is_so} mm over all, is not that of the parts list any more"
    return f"it is {is_so} mm, the parts list has {wanted} mm now"


def _size(shape: Polygon) -> str:
    """Return length and width over all, however it lies."""
    box = shapely.oriented_envelope(shape)
    x, y = shapely.get_coordinates(box).T
    first, second = np.hypot(np.diff(x[:3]), np.diff(y[:3])).tolist()
    return f"{max(first, second):.1f} x {min(first, second):.1f}"


def told_misfits(
    pieces: Sequence[Row], why: Mapping[int, str], wants: Mapping[str, Row]
) -> Iterator[str]:
    """Yield a line for each piece that was sawn and does not count, and at last what to do.

    ``wants`` is what the list has of each part, as for :func:`misfits`.
    """
    odd = [row for row in pieces if row["number"] in why]
    for row in odd:
        yield f"{row['body']['label']}, sawn from {row['board']}: {why[row['number']]}"
    if odd:
        count = counted(len(odd), "piece") + f" {'does' if len(odd) == 1 else 'do'}"
        done = Counter(row["part"] for row in pieces if row["number"] not in why)
        lacking = {part for part, want in wants.items() if done[part] < want["quantity"]}
        yield (
            f"{count} not count: {'; '.join(_ways(odd, wants, lacking))}; or give its wood back "
            "(book spoiled, with --keep)"
        )


def _ways(odd: Sequence[Row], wants: Mapping[str, Row], lacking: Collection[str]) -> Iterator[str]:
    """Yield what can be said of pieces that do not count, by what the list has of their parts."""
    listed = [row for row in odd if is_listed(row, wants)]
    spare = [row for row in odd if row not in listed and row["part"] in lacking]
    off = [row for row in odd if row not in listed and row not in spare]
    say = "salvage-nest book used PROJECT.yaml"
    if listed:
        yield (
            f"if one serves all the same, say so ({say} {listed[0]['body']['label']!r}), or name "
            "the part that it becomes behind it"
        )
    if spare:
        yield (
            "one beyond what is asked for takes the place of one that is still wanted if you say "
            f"so ({say} {spare[0]['body']['label']!r} {spare[0]['part']!r})"
        )
    if off:
        yield (
            "if the list only calls its part otherwise now, or it serves as another, name that "
            f"({say} {off[0]['body']['label']!r} OTHER)"
        )


def is_listed(row: Row, wants: Mapping[str, Row]) -> bool:
    """Return whether the list has a piece of the name of one."""
    return row["part"] in wants and row["copy"] <= wants[row["part"]]["quantity"]
