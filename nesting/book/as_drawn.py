"""Whether a sheet that was in CAD still tells where its lines lie, and what was copied in it."""

from __future__ import annotations

from collections import Counter
from collections.abc import Iterator
from pathlib import Path

from nesting.errors import BookError
from nesting.sheets.drawing import Tag
from nesting.sheets.dxf_terms import INSERT_UNITS_MM
from nesting.sheets.entities import OUT_OF_PLANE
from nesting.sheets.read_back import SheetRecord
from nesting.sheets.written import Drawn

UNITS = {1: ", inches", 2: ", feet", 5: ", centimetres", 6: ", metres"}
"""What $INSUNITS may say (DXF reference, HEADER section), as far as boats are drawn in it."""

NO_UNIT = 0
"""$INSUNITS of a drawing that leaves open what its figures are."""


def require_as_drawn(record: SheetRecord, path: Path) -> None:
    """Refuse a sheet whose lines lie elsewhere than their figures say.

    Raises
    ------
    BookError
        If its unit is not millimetres, an edge is mirrored, or a piece or an offcut drawn twice.
    """
    if record.units not in (None, NO_UNIT, INSERT_UNITS_MM):
        raise BookError(
            f"{path}: its unit ($INSUNITS) is {record.units}{UNITS.get(record.units, '')}; a cut "
            f"sheet is in millimetres, {INSERT_UNITS_MM}: scale it back and set the unit right"
        )
    tagged = [entity for entity in record.written.drawn if entity.tag is not None]
    # A mirrored line keeps its figures, its plane is turned about (DXF reference, object
    # coordinates).
    astray = {e.layer for e in tagged if any(odd.startswith(OUT_OF_PLANE) for odd in e.odd)}
    if astray:
        raise BookError(
            f"{path}: what is on {', '.join(sorted(astray))} is mirrored, or turned out of the "
            "plane of the board: undo that, or take the sheet as it was written"
        )
    for tag, count in Counter(entity.tag for entity in tagged).items():
        if count > 1 and tag is not None and tag.subject in ("part", "offcut"):
            raise BookError(f"{path}: {_called(tag)} is drawn twice or more: take one away")


def _called(tag: Tag) -> str:
    return tag.get("label") if tag.subject == "part" else f"offcut {tag.get('number')}"


def copied_keep_outs(record: SheetRecord) -> Iterator[Drawn]:
    """Yield what somebody copied from a keep-out of the sheet: a copy says that it is that one."""
    seen = set[Tag]()
    for entity in record.written.drawn:
        tag = entity.tag
        if tag is None or tag.subject != "keep-out":
            continue
        if tag in seen:
            yield entity
        seen.add(tag)
