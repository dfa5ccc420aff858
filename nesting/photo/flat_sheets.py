"""Whether the printed sheets lie flat, all in one plane, with their marks where they belong."""

from __future__ import annotations

import numpy as np

from nesting.errors import PhotographError
from nesting.photo.mark_sheet import MARKS_A_SHEET, sheet_corners
from nesting.photo.opencv import opencv
from nesting.photo.pose import Fit

FLAT_MM, FLAT_PIXELS, FLAT_TIMES, MOST_USUAL = 0.45, 0.7, 4.0, 0.9
"""A sheet whose marks lie this far off, in mm and in pixels and against the other sheets, is not
flat, or not at the height of the others."""

CURLED_MM, CURLED_PIXELS = 0.3, 0.3
"""What may be left on most sheets. Rendered flat ones left 0.23 mm and 0.20 pixels at the most;
paper whose far end is seen 2 mm nearer left 0.37 mm and 0.36 pixels at the least, and made lengths
come out half a per cent too great."""

CURL_SHARE = 2.0
"""How much of a length is doubtful, times what is left on most sheets as a part of their own
length: curled paper that leaves so little that it is not refused made lengths come out too great by
2.5 to 3 times that, but a part of what is left is noise."""


def require_flat(fit: Fit) -> None:
    """Refuse marks that do not lie in one plane, or that are bent."""
    usual = float(np.median(list(fit.left.values())))
    usual_mm = float(np.median(list(fit.left_mm.values())))
    off = {
        key: mm
        for key, mm in fit.left_mm.items()
        if mm > FLAT_MM and fit.left[key] > max(FLAT_PIXELS, min(FLAT_TIMES * usual, 1.2))
    }
    if not off and usual_mm > CURLED_MM and usual > CURLED_PIXELS:
        raise PhotographError(
            f"the marks of most sheets are {usual_mm:.1f} mm from where they were printed: paper "
            "that curls makes lengths come out wrong; glue the sheets to something flat, and "
            "print at 100 %"
        )
    if not off and usual < MOST_USUAL:
        return
    bent = _bent_sheets(fit)
    if bent:
        raise PhotographError(
            f"sheet {bent[0]} is bent, its marks are not where they were printed: glue it to "
            "something flat, and print at 100 %"
        )
    worst = max(off or fit.left_mm, key=lambda key: (off or fit.left_mm)[key])
    raise PhotographError(
        f"the sheets do not lie in one plane: the marks disagree by {fit.left_mm[worst]:.1f} mm, "
        f"most at sheet {worst[1]}; lay all of them at one height, and print all alike"
    )


def _bent_sheets(fit: Fit) -> list[int]:
    """Return the sheets whose marks do not fit their own pattern, whatever way each lies."""
    cv2 = opencv()
    found = []
    for shot in fit.problem.shots:
        for sheet in sorted({mark.sheet for mark in shot.marks}):
            mine = [mark for mark in shot.marks if mark.sheet == sheet]
            if len(mine) < 3:
                continue
            model = np.concatenate([sheet_corners()[mark.number % MARKS_A_SHEET] for mark in mine])
            seen = np.concatenate([mark.corners for mark in mine])
            matrix = cv2.findHomography(model, seen, 0)[0]
            laid = cv2.perspectiveTransform(model[:, None, :], matrix)[:, 0, :]
            off = float(np.sqrt(np.mean(np.sum((laid - seen) ** 2, axis=1))))
            if off > 0.6 and off * 60.0 / mine[0].side > 0.25:
                found.append(sheet)
    return found


def paper_doubt(fit: Fit, length_mm: float) -> float:
    """Return by how much a length is doubtful because paper may curl, mm."""
    sheet = float(np.ptp(np.concatenate(sheet_corners()), axis=0).max())
    return CURL_SHARE * float(np.median(list(fit.left_mm.values()))) / sheet * length_mm
