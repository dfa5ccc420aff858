"""A drawing as a picture, drawn with matplotlib: for README files and for looking at.

Matplotlib is loaded only here and in :mod:`nesting.sheets.pdf`, when asked for.
"""

from __future__ import annotations

import io
import math
from collections import defaultdict
from functools import cache
from pathlib import Path
from typing import TYPE_CHECKING, Any

from nesting.errors import OutputError
from nesting.faces import Face, as_lettered, face_file, runs
from nesting.sheets.drawing import (
    Anchor,
    Area,
    Arrow,
    Circle,
    Drawing,
    Entity,
    Point,
    Polyline,
    Role,
    Text,
    arrow_lines,
)
from nesting.sheets.letter_order import as_seen
from nesting.sheets.pen import DASH_PAPER_MM, PENS, Pen, shaded
from nesting.sheets.whole_file import write_whole

if TYPE_CHECKING:
    from matplotlib.axes import Axes

POINTS_PER_MM = 72.0 / 25.4
ARC_STEP_DEG = 5.0


def save_picture(
    drawing: Drawing, path: Path, *, dots_per_inch: float = 150.0, overwrite: bool = False
) -> Path:
    """Write a drawing as PNG at the size of its paper and return the path.

    Raises
    ------
    OutputError
        If matplotlib is not there, the file is and may not be overwritten, or the folder
        cannot be written.
    """
    figure = _figure(drawing)
    stream = io.BytesIO()
    figure.savefig(stream, format="png", dpi=dots_per_inch, metadata={"Software": None})
    return write_whole(path, stream.getvalue(), overwrite=overwrite)


def _figure(drawing: Drawing) -> Any:
    try:
        from matplotlib.figure import Figure
    except ImportError as error:
        raise OutputError("a picture needs matplotlib: install salvage-nest anew") from error
    width, height = (side / drawing.scale / 25.4 for side in drawing.size_mm)
    margin = 10.0 / 25.4
    figure = Figure(figsize=(width + 2 * margin, height + 2 * margin))
    whole_width, whole_height = width + 2 * margin, height + 2 * margin
    axes = figure.add_axes(
        (margin / whole_width, margin / whole_height, width / whole_width, height / whole_height)
    )
    axes.set_axis_off()
    low_x, low_y, high_x, high_y = drawing.frame
    axes.set_xlim(low_x, high_x)
    axes.set_ylim(low_y, high_y)
    _fill(axes, drawing)
    _stroke(axes, drawing)
    _letter(axes, drawing)
    return figure


def _fill(axes: Axes, drawing: Drawing) -> None:
    """Fill all areas, below the lines."""
    from matplotlib.patches import PathPatch
    from matplotlib.path import Path as Outline

    for entity in drawing.entities:
        if isinstance(entity, Area):
            rings = [Outline([*ring, ring[0]], closed=True) for ring in entity.rings]
            colour = shaded(PENS[entity.role].ink, entity.shade)
            outline = Outline.make_compound_path(*rings)
            axes.add_patch(PathPatch(outline, facecolor=colour, linewidth=0, clip_on=False))


def _stroke(axes: Axes, drawing: Drawing) -> None:
    """Draw all lines, those of one pen together."""
    from matplotlib.collections import LineCollection

    by_role: dict[Role, list[tuple[Point, ...]]] = defaultdict(list)
    for entity in drawing.entities:
        by_role[entity.role].extend(strokes(entity))
    for role, lines in by_role.items():
        pen = PENS[role]
        style = line_style(pen)
        axes.add_collection(
            LineCollection(
                lines,
                colors=pen.ink.value,
                linewidths=pen.width_mm * POINTS_PER_MM,
                linestyles=[style],
                capstyle="round" if style == "solid" else "butt",
                joinstyle="round",
                clip_on=False,
            ),
            autolim=False,
        )


def line_style(pen: Pen) -> Any:
    """Return matplotlib's word for a pen's dashes, which it counts in widths of the line."""
    dashes = [abs(length) / pen.width_mm for length in DASH_PAPER_MM[pen.dash]]
    return (0, dashes) if dashes else "solid"


def strokes(entity: Entity) -> list[tuple[Point, ...]]:
    """Return the lines that a pen draws for an entity; none for lettering and areas."""
    if isinstance(entity, Arrow):
        return [line.points for line in arrow_lines(entity)]
    if isinstance(entity, Circle):
        return [arc_points(entity.centre, entity.radius_mm, 0.0, 360.0)]
    return [] if isinstance(entity, Text | Area) else [flattened(entity)]


def _letter(axes: Axes, drawing: Drawing) -> None:
    """Draw lettering as outlines, so that its capitals are exactly as high as asked."""
    from matplotlib.collections import PathCollection

    letters: dict[Role, list[Any]] = defaultdict(list)
    for entity in drawing.entities:
        if isinstance(entity, Text):
            letters[entity.role].append(_outlines(entity))
    for role, paths in letters.items():
        ink = PENS[role].ink.value
        axes.add_collection(
            PathCollection(paths, facecolors=ink, linewidths=0, clip_on=False), autolim=False
        )


def _outlines(text: Text) -> Any:
    from matplotlib.textpath import TextPath
    from matplotlib.transforms import Affine2D

    size = 100.0
    lettered = as_seen(as_lettered(text.text))
    prop = _families(frozenset(face for face, _ in runs(lettered)))
    path = TextPath((0, 0), lettered.replace("$", r"\$"), size=size, prop=prop)
    width = float(path.vertices[:, 0].max()) if len(path.vertices) else 0.0
    scale = text.height_mm / (size * CAPITAL_SHARE)
    hang = {Anchor.LEFT: 0.0, Anchor.CENTRE: width / 2, Anchor.RIGHT: width}[text.anchor]
    place = Affine2D().translate(-hang, 0.0).scale(scale).translate(*text.at)
    return place.transform_path(path)


@cache
def _families(faces: frozenset[Face]) -> Any:
    """Return what lettering in some faces is drawn with: a letter goes to the first that has it."""
    from matplotlib.font_manager import FontProperties, fontManager

    names = list[str]()
    for face in (face for face in Face if face in faces):
        path = str(face_file(face))
        fontManager.addfont(path)
        names.append(FontProperties(fname=path).get_name())
    return FontProperties(family=names)


CAPITAL_SHARE = 0.729
"""Height of a capital of DejaVu Sans over its size (the font's own metrics)."""


def arc_points(
    centre: Point, radius_mm: float, start_deg: float, sweep_deg: float
) -> tuple[Point, ...]:
    """Return points along an arc, both ends among them."""
    steps = max(2, math.ceil(abs(sweep_deg) / ARC_STEP_DEG))
    turns = [math.radians(start_deg + sweep_deg * step / steps) for step in range(steps + 1)]
    return tuple(
        (centre[0] + radius_mm * math.cos(turn), centre[1] + radius_mm * math.sin(turn))
        for turn in turns
    )


def flattened(line: Polyline) -> tuple[Point, ...]:
    """Return a polyline's points with its arcs as chords; the first again if it is closed."""
    bulges = line.bulges or (0.0,) * len(line.points)
    ends = (*line.points[1:], line.points[0])
    found: list[Point] = [line.points[0]]
    for start, end, bulge in zip(line.points, ends, bulges, strict=True):
        found.extend(_bulge_points(start, end, bulge)[1:])
    return tuple(found if line.is_closed else found[: -1 or None])


def _bulge_points(start: Point, end: Point, bulge: float) -> tuple[Point, ...]:
    if bulge == 0.0:
        return start, end
    dx, dy = end[0] - start[0], end[1] - start[1]
    rise = (1 - bulge * bulge) / (4 * bulge)
    centre = ((start[0] + end[0]) / 2 - dy * rise, (start[1] + end[1]) / 2 + dx * rise)
    first = math.degrees(math.atan2(start[1] - centre[1], start[0] - centre[0]))
    sweep = math.degrees(4 * math.atan(bulge))
    return arc_points(centre, math.dist(start, centre), first, sweep)
