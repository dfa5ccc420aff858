"""What was found, drawn over the picture of the board: to be checked by eye."""

from __future__ import annotations

import numpy as np
from shapely.geometry import Polygon

from nesting.errors import OutputError
from nesting.photo.board_face import Face, face_of
from nesting.photo.marks import Picture
from nesting.photo.opencv import opencv
from nesting.photo.photographed import Photographed
from nesting.photo.plan_view import Array
from nesting.photo.round_finds import LISTED, SURE
from nesting.photo.stock_text import length_known, numbered
from nesting.told import told_in
from nesting.units import Unit
from nesting.written_measures import format_length

WIDEST = 3600
"""Pixels along the board."""

FINEST_MM = 0.5
MARGIN_MM = 45.0

LETTERS = {"hole": "H", "recess": "R", "bung": "B"}
COLOURS = {"hole": (40, 40, 230), "recess": (230, 40, 200), "bung": (230, 130, 0)}
"""Blue, green, red: red holes, violet recesses, blue bungs; the letter says it without colour."""

EDGE, DOUBT, REMARK = (60, 220, 60), (0, 200, 255), (170, 170, 170)
ROW = 34
"""Pixels of a line of words."""


def overlay_png(board: Photographed, unit: Unit) -> bytes:
    """Return the board's face with outline and finds, as PNG."""
    cv2 = opencv()
    assert board.plan is not None
    mm = max(FINEST_MM, (board.outline.bounds[2] + 2 * MARGIN_MM) / WIDEST)
    face = face_of(board.plan, board.frame, board.outline, mm=mm, margin=MARGIN_MM)
    shown = _drawn(board, face)
    ok, content = cv2.imencode(".png", np.concatenate([shown, _words(board, face, unit)]))
    if not ok:
        raise OutputError("the overlay cannot be made into a picture")
    return bytes(content)


def _drawn(board: Photographed, face: Face) -> Picture:
    cv2 = opencv()
    shown = face.picture.copy()
    cv2.polylines(shown, [_cells(face, board.outline)], True, EDGE, 2, cv2.LINE_AA)
    patches = (*board.bites, *(one.shape for one in board.blind))
    for number, patch in enumerate(patches, len(board.finds) + 1):
        cv2.polylines(shown, [_cells(face, patch)], True, DOUBT, 2, cv2.LINE_AA)
        _written(shown, f"{number}?", _cells(face, patch)[0] + (4, -6), DOUBT)
    first = len(board.finds) + len(patches) + 1
    for number, stretch in enumerate(board.stretches, first):
        cells = np.round(_at(face, stretch.line)).astype(np.int32)
        cv2.polylines(shown, [cells], False, DOUBT, 4, cv2.LINE_AA)
        _written(shown, f"{number}?", cells[len(cells) // 2] + (4, -8), DOUBT)
    for number, find in numbered(board.finds):
        middle = _at(face, np.array([[find.x, find.y]]))[0]
        radius = max(5, int(find.diameter / 2 / face.mm) + 3)
        place = (int(middle[0]), int(middle[1]))
        if find.confidence < LISTED:
            cv2.drawMarker(shown, place, REMARK, cv2.MARKER_TILTED_CROSS, 10, 1)
            _written(shown, f"{number}", np.add(middle, (6, -6)), REMARK, 0.4)
            continue
        is_sure = find.confidence >= SURE
        colour = COLOURS[find.kind] if is_sure else DOUBT
        for turn in range(0, 360, 360 if is_sure else 45):
            cv2.ellipse(
                shown,
                place,
                (radius, radius),
                0,
                turn,
                turn + (360 if is_sure else 25),
                colour,
                2,
                cv2.LINE_AA,
            )
        mark = f"{number}{LETTERS[find.kind]}{'' if is_sure else '?'}"
        _written(shown, mark, np.add(middle, (radius + 1, -radius - 1)), colour)
    return shown


def _written(
    shown: Picture, text: str, at: Array, colour: tuple[int, int, int], size: float = 0.5
) -> None:
    cv2 = opencv()
    place = (int(at[0]), int(at[1]))
    cv2.putText(shown, text, place, cv2.FONT_HERSHEY_SIMPLEX, size, (0, 0, 0), 3, cv2.LINE_AA)
    cv2.putText(shown, text, place, cv2.FONT_HERSHEY_SIMPLEX, size, colour, 1, cv2.LINE_AA)


def _words(board: Photographed, face: Face, unit: Unit) -> Picture:
    """Return the strip below the picture: the board's size, a scale, what the signs mean."""
    cv2 = opencv()
    long, high = board.outline.bounds[2:]
    sure = sum(find.confidence >= SURE for find in board.finds)
    doubtful = sum(LISTED <= find.confidence < SURE for find in board.finds)
    doubtful += len(board.bites) + len(board.blind) + len(board.stretches)
    lines = [
        f"{board.name}: {format_length(long, unit)} x {format_length(high, unit)}, "
        f"{told_in(length_known(board), unit)}; {sure} sure, {doubtful} doubtful, "
        f"{sum(find.confidence < LISTED for find in board.finds)} remarks",
        "green edge, yellow where it is doubtful; H hole, R recess, B bung; broken ring and ? "
        "doubtful: look at the wood; x a remark",
        *(told_in(note, unit) for note in board.notes),
    ]
    strip: Picture = np.full((ROW * (len(lines) + 1), face.picture.shape[1], 3), 255, np.uint8)
    _scale(strip, long, face.mm, unit)
    for i, line in enumerate(lines):
        said = line.encode("ascii", "replace").decode()
        cv2.putText(
            strip,
            said,
            (8, ROW * (i + 1) + 24),
            cv2.FONT_HERSHEY_SIMPLEX,
            0.6,
            (0, 0, 0),
            1,
            cv2.LINE_AA,
        )
    return strip


FOOT_MM, LONG_MM = 12 * 25.4, 4000.0
"""A board longer than the second has a coarser scale."""


def _scale(strip: Picture, long: float, mm: float, unit: Unit) -> None:
    """Draw a scale along the top of a strip, a figure at every fifth stroke, or every fourth."""
    cv2 = opencv()
    step, every = (FOOT_MM / 2, 4) if unit.is_imperial else (100.0, 5)
    step *= 5 if long >= LONG_MM else 1
    for n in range(int(long // step) + 1):
        x = int((n * step + MARGIN_MM) / mm)
        cv2.line(strip, (x, 0), (x, 10), (0, 0, 0), 2)
        if n % every == 0:
            cv2.putText(
                strip,
                format_length(n * step, unit),
                (x + 3, 24),
                cv2.FONT_HERSHEY_SIMPLEX,
                0.5,
                (0, 0, 0),
                1,
                cv2.LINE_AA,
            )


def _at(face: Face, places: Array) -> Array:
    """Return (n, 2) columns and rows of places on the board."""
    return np.column_stack(
        [
            (places[:, 0] + MARGIN_MM) / face.mm,
            face.picture.shape[0] - 1 - (places[:, 1] + MARGIN_MM) / face.mm,
        ]
    )


def _cells(face: Face, shape: Polygon) -> np.ndarray[tuple[int, int], np.dtype[np.int32]]:
    return np.round(_at(face, np.asarray(shape.exterior.coords)[:-1])).astype(np.int32)
