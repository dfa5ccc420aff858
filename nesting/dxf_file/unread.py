"""What stands in a drawing and is not read: what it is called, where it stands, and why."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from nesting.dxf_file.entities import BrokenError, Entity
from nesting.dxf_file.flat import Frame
from nesting.unseen import looked_up, quoted

_WORDS = ("TEXT", "ATTRIB", "ATTDEF")
"""Kinds of words that are set by their start, or by another point."""

NO_OUTLINE = frozenset(
    {"TEXT", "MTEXT", "ATTRIB", "ATTDEF", "RTEXT", "ARCALIGNEDTEXT", "ACAD_TABLE", "TOLERANCE"}
    | {"DIMENSION", "ARC_DIMENSION", "LARGE_RADIAL_DIMENSION", "LEADER", "MULTILEADER", "MLEADER"}
    | {"IMAGE", "WIPEOUT", "PDFUNDERLAY", "DWFUNDERLAY", "DGNUNDERLAY", "OLEFRAME", "OLE2FRAME"}
    | {"POINT", "RAY", "XLINE", "VIEWPORT", "LIGHT", "SUN", "SECTION", "GEOPOSITIONMARKER"}
)
"""Kinds that are no outline of anything, whatever they look like: words, dimensions, pictures,
construction lines (ENTITIES section of the DXF reference of AutoCAD 2012, from memory)."""


@dataclass(frozen=True)
class Unread:
    """Something in a drawing that was not read as a curve.

    Attributes
    ----------
    name
        Kind, handle and line.
    layers
        Its own layer first, then those of the inserts it came by.
    place
        Where it stands, mm, if it says so.
    why
        What is wrong with it, as the end of a sentence.
    is_shape
        Whether it may be an outline or a cut-out.
    """

    name: str
    layers: tuple[str, ...]
    place: tuple[float, float] | None
    why: str
    is_shape: bool
    is_on_paper: bool = False

    @property
    def all_layers(self) -> frozenset[str]:
        """Every layer that it counts on, as layers are looked up."""
        return frozenset(map(looked_up, self.layers))

    def __str__(self) -> str:
        where = "" if self.place is None else f" at ({self.place[0]:g}, {self.place[1]:g}) mm"
        return f"{self.name} on layer {quoted(self.layers[0])}{where} {self.why}"


def place_of(entity: Entity, frame: Frame) -> tuple[float, float] | None:
    """Return where an entity stands in the plan, mm, or None if it does not say."""
    try:
        # Words set by their middle or their end say only there where they stand.
        is_set = entity.kind in _WORDS and any(entity.flags(code) for code in (72, 73, 74))
        found = [*(entity.points(11) if is_set else ()), *entity.points(10)]
        found += [at for member in entity.members for at in member.points(10)]
        if not found:
            return None
        # The first point of a polyline and of a hatch says only how high it lies.
        is_late = entity.kind in ("POLYLINE", "HATCH", "MPOLYGON") and len(found) > 1
        plane = frame.of_plane(entity)
        x, y, _ = plane.points(np.array([found[1 if is_late else 0]]))[0].tolist()
    except BrokenError:
        return None
    return x, y
