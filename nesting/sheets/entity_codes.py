"""Entities as the lines of a DXF file, one after another, each under a handle of its own.

Group codes: DXF reference, ENTITIES section (from memory).
"""

from __future__ import annotations

from collections.abc import Sequence

from nesting.sheets.drawing import (
    Anchor,
    Area,
    Arrow,
    Circle,
    Entity,
    PaperSheet,
    Point,
    Polyline,
    Tag,
    Text,
    arrow_lines,
)
from nesting.sheets.dxf_terms import (
    APP_ID,
    TEXT_STYLE,
    UNPRINTED_LAYER,
    WIDTH_FACTORS,
    Version,
    layer_name,
    tag_as_written,
    text_as_written,
)

MODEL_SPACE = "17"
"""Handle of what owns all entities, in R2010."""

PAPER_SPACE = "1B"
"""Handle of what owns those on paper."""

HANGING = {Anchor.LEFT: "", Anchor.CENTRE: " 72\n1\n", Anchor.RIGHT: " 72\n2\n"}
"""How a text hangs on its place; on the left if nothing is said."""

BEYOND_PAPER = 1.1
"""So many times the paper is what a program shows of it."""

MAIN_FLAGS = 557088
"""What the view of the paper itself says of itself, as the library has it."""

VIEWPORT_SET = "".join(f"{axis:3d}\n{value}.0\n" for axis, value in (
    (13, 0), (23, 0), (14, 10), (24, 10), (15, 10), (25, 10), (16, 0), (26, 0), (36, 1),
    (17, 0), (27, 0), (37, 0), (42, 50), (43, 0), (44, 0),
))  # fmt: skip
"""Grid, the way of looking, lens and clipping: seen straight from above."""

VIEWPORT_END = (
    "  1\n\n281\n0\n 71\n0\n 74\n0\n"
    + "".join(f"{code}\n{float(code in (111, 122))}\n" for code in (
        110, 120, 130, 111, 121, 131, 112, 122, 132,
    ))
    + " 79\n0\n146\n0.0\n282\n0\n"
)  # fmt: skip
"""Style, rendering, and axes of its own that are those of the drawing."""


def paper_limits(sheet: PaperSheet) -> tuple[Point, Point]:
    """Return the paper's own corners, counted from the corner inside its margin."""
    (wide, high), margin = sheet.size_mm, sheet.margin_mm
    return (-margin, -margin), (wide - margin, high - margin)


def figure(value: float) -> str:
    """Return a number as the file has it."""
    return str(float(value))


class EntityWriter:
    """Entities one after another, each under the next handle."""

    def __init__(self, version: Version, handle: int) -> None:
        self.is_old = version == "R12"
        self.width = WIDTH_FACTORS[version]
        self.handle = handle
        self.pieces: list[str] = []
        self.owner, self.where = MODEL_SPACE, ""

    def add_sheet(self, sheet: PaperSheet) -> str:
        """Write what stands on paper, and return the handle of the view of the paper itself."""
        self.owner, self.where = PAPER_SPACE, " 67\n1\n"
        main = f"{self.handle:X}"
        (low_x, low_y), (high_x, high_y) = paper_limits(sheet)
        middle = (low_x + high_x) / 2, (low_y + high_y) / 2
        wide, high = (side * BEYOND_PAPER for side in sheet.size_mm)
        self._port(middle, (wide, high), middle, high, 1)
        # Numbers of viewports leave one out, as the library's do.
        for number, port in enumerate(sheet.ports, start=3):
            self._port(port.middle, port.size, port.seen, port.size[1] * port.scale, number)
        for entity in sheet.entities:
            self.add(entity)
        return main

    def _port(self, middle: Point, size: Point, seen: Point, high: float, number: int) -> None:
        """Write a viewport: where it stands, how large, which place of the drawing is shown."""
        begun = self._begun("VIEWPORT", UNPRINTED_LAYER, "AcDbViewport")
        wide, tall = map(figure, size)
        is_main = number == 1
        (x, y), high_seen = map(figure, seen), figure(high)
        self.pieces.append(
            f"{begun}{_place(middle)} 40\n{wide}\n 41\n{tall}\n 68\n{1 if is_main else 2}\n"
            f" 69\n{number}\n 12\n{x}\n 22\n{y}\n{VIEWPORT_SET} 45\n{high_seen}\n"
            f" 50\n0.0\n 51\n0.0\n 72\n100\n 90\n{MAIN_FLAGS if is_main else 0}\n{VIEWPORT_END}"
        )

    def add(self, entity: Entity) -> None:
        """Write an entity."""
        if isinstance(entity, Arrow):
            for line in arrow_lines(entity):
                self._line(line)
        elif isinstance(entity, Circle):
            self._circle(entity)
        elif isinstance(entity, Text):
            self._text(entity)
        elif isinstance(entity, Area):
            raise AssertionError("a filled area is for paper: no cut sheet has any")
        else:
            self._line(entity)

    def _begun(self, kind: str, layer: str, name: str = "") -> str:
        """Return the first groups of an entity; ``name`` is that of its class since R13."""
        handle, self.handle = self.handle, self.handle + 1
        if self.is_old:
            return f"  0\n{kind}\n  5\n{handle:X}\n  8\n{layer}\n"
        return (
            f"  0\n{kind}\n  5\n{handle:X}\n330\n{self.owner}\n100\nAcDbEntity\n{self.where}"
            f"  8\n{layer}\n100\n{name}\n"
        )

    def _circle(self, circle: Circle) -> None:
        begun = self._begun("CIRCLE", layer_name(circle.role, circle.view), "AcDbCircle")
        radius = figure(circle.radius_mm)
        self.pieces.append(f"{begun}{_place(circle.centre)} 40\n{radius}\n{_said(circle.tag)}")

    def _text(self, text: Text) -> None:
        begun = self._begun("TEXT", layer_name(text.role, text.view), "AcDbText")
        width = "" if self.width == 1.0 else f" 41\n{figure(self.width)}\n"
        self.pieces.append(
            f"{begun}{_place(text.at)} 40\n{figure(text.height_mm)}\n"
            f"  1\n{text_as_written(text.text)}\n  7\n{TEXT_STYLE}\n{width}{HANGING[text.anchor]}"
            f"{_place(text.at, 11)}" + ("" if self.is_old else "100\nAcDbText\n")
        )

    def _line(self, line: Polyline) -> None:
        if len(line.points) == 2 and not line.bulges:
            begun = self._begun("LINE", layer_name(line.role, line.view), "AcDbLine")
            start, end = line.points
            self.pieces.append(f"{begun}{_place(start)}{_place(end, 11)}{_said(line.tag)}")
        elif self.is_old:
            self._old_polyline(line)
        else:
            self._polyline(line)

    def _polyline(self, line: Polyline) -> None:
        begun = self._begun("LWPOLYLINE", layer_name(line.role, line.view), "AcDbPolyline")
        if line.bulges:
            corners = "".join(
                f" 10\n{figure(x)}\n 20\n{figure(y)}\n{_bulge(bulge)}"
                for (x, y), bulge in zip(line.points, line.bulges, strict=True)
            )
        else:
            corners = "".join([f" 10\n{float(x)}\n 20\n{float(y)}\n" for x, y in line.points])
        counted = f" 90\n{len(line.points)}\n 70\n{int(line.is_closed)}\n"
        self.pieces.append(f"{begun}{counted}{corners}{_said(line.tag)}")

    def _old_polyline(self, line: Polyline) -> None:
        """Write a polyline, its end mark and its corners; the end mark has the second handle."""
        layer = layer_name(line.role, line.view)
        begun, end = self._begun("POLYLINE", layer), self._begun("SEQEND", layer)
        flags = f" 66\n1\n{_place((0.0, 0.0))} 70\n{int(line.is_closed)}\n"
        self.pieces.append(f"{begun}{flags}{_said(line.tag)}")
        for point, bulge in zip(line.points, _bulges(line), strict=True):
            corner = self._begun("VERTEX", layer)
            self.pieces.append(f"{corner}{_place(point)}{_bulge(bulge)} 70\n0\n")
        self.pieces.append(end)


def _place(point: Point, code: int = 10) -> str:
    x, y = point
    return f" {code}\n{figure(x)}\n {code + 10}\n{figure(y)}\n {code + 20}\n0.0\n"


def _bulges(line: Polyline) -> Sequence[float]:
    return line.bulges or (0.0,) * len(line.points)


def _bulge(bulge: float) -> str:
    return f" 42\n{figure(bulge)}\n" if bulge else ""


def _said(tag: Tag | None) -> str:
    """Return a tag as extended data."""
    if tag is None:
        return ""
    return f"1001\n{APP_ID}\n" + "".join(f"1000\n{text}\n" for text in tag_as_written(tag))
