"""Every kind of entity on every kind of layer, sound and broken: read whole, or refused in words.

`DRAWING_CASES=20000 python -m pytest tests/nesting/dxf_file/test_dxf_corpus.py` breaks so many.
"""

import io
import os
import random
import re
import warnings
from functools import cache
from types import SimpleNamespace

import ezdxf
import numpy as np
import pytest
import shapely
from drawn_corpus import MARKS, broken, drawing_with
from pydantic import ValidationError
from scipy.interpolate import BSpline
from shapely.geometry import Point

from nesting.dxf_file import drawn as dxf_drawn
from nesting.dxf_file.drawn import read_rings
from nesting.dxf_file.outlines import rings_read_whole
from nesting.errors import DrawingError, ShapeError
from nesting.project.board_entry import DrawingSpec
from nesting.project.drawn_board import drawn_board
from nesting.units import Unit
from parts.families.drawn import DrawnOutlinePart

CASES = int(os.environ.get("DRAWING_CASES", "250"))
BY_NAME = pytest.mark.parametrize("name", MARKS)


@cache
def text_with(name, layer, outline=True, disc=False):
    return drawing_with(name, layer, outline=outline, disc=disc)


def forget():
    """Files here are written anew within one tick of their clock."""
    dxf_drawn._read_rings.cache_clear()


def _board(folder, text, **spec):
    (folder / "board.dxf").write_text(text, encoding="utf-8")
    forget()
    setting = SimpleNamespace(folder=folder, unit=Unit.MM)
    return drawn_board(DrawingSpec(file="board.dxf", **spec), setting)


def _part(folder, text):
    (folder / "board.dxf").write_text(text, encoding="utf-8")
    forget()
    data = {"file": "board.dxf", "siding": 20}
    made = DrawnOutlinePart.model_validate(data, context={"unit": Unit.MM, "folder": folder})
    return made.outline().shape


def _check_refusal(error, folder):
    """A refusal is one sentence, with the file and the place, or the line, of what is wrong."""
    message = str(error.errors()[0]["msg"] if isinstance(error, ValidationError) else error)
    assert "\n" not in message
    assert len(message) < 500
    return message


@BY_NAME
def test_mark_on_a_keep_out_layer_is_read_whole_or_named(name, tmp_path):
    mark = MARKS[name]
    try:
        _, keep_outs = _board(
            tmp_path, text_with(name, "NAILS"), outline="EDGE", keep_outs={"nails": "metal"}
        )
    except DrawingError as error:
        message = _check_refusal(error, tmp_path)
        assert not mark.is_read
        assert re.search(r"board\.dxf: .*\((handle \w+, )?line \d+\) on layer 'NAILS'", message)
        return
    assert mark.reaches
    found = shapely.union_all([keep_out.polygon for keep_out in keep_outs]).buffer(0.1)
    assert [point for point in mark.reaches if not found.covers(Point(point))] == []


@BY_NAME
def test_mark_on_a_boards_layer_is_a_hole_or_named_and_words_are_passed_over(name, tmp_path):
    mark = MARKS[name]
    try:
        shape, keep_outs = _board(tmp_path, text_with(name, "EDGE"))
    except DrawingError as error:
        _check_refusal(error, tmp_path)
        assert not mark.is_words
        return
    assert shape.bounds == (0, 0, 900, 90)
    found = shapely.union_all([keep_out.polygon for keep_out in keep_outs]).buffer(0.1)
    if mark.is_words or name == "line":
        assert found.is_empty
    else:
        assert [point for point in mark.reaches if not found.covers(Point(point))] == []


@BY_NAME
def test_disc_is_the_part_only_if_nothing_else_can_be(name, tmp_path):
    """The mark lies 200 mm from the disc: it is another outline, no outline, or refused."""
    text = text_with(name, "EDGE", outline=False, disc=True)
    try:
        shape = _part(tmp_path, text)
    except ValidationError as error:
        message = _check_refusal(error, tmp_path)
        assert not MARKS[name].is_words
        assert "board.dxf" in message
        return
    assert shape.bounds == pytest.approx((0, 0, 60, 60), abs=0.1)
    apart = {"line", "open bent line", "open arc", "solid", "trace", "face", "polyline"}
    assert MARKS[name].is_words or name in apart or name.startswith("hatch")


def _seen_by_another_reader(path):
    """Return what GDAL finds on the layer NAILS, as shapes; None if it reads nothing of it."""
    text = path.read_text(encoding="utf-8")
    pyogrio = pytest.importorskip("pyogrio")
    from pyogrio.errors import DataLayerError, DataSourceError

    try:
        with warnings.catch_warnings():
            warnings.simplefilter("ignore")
            meta, _, geometries, columns = pyogrio.raw.read(path, force_2d=True)
    except (DataSourceError, DataLayerError, RuntimeError, UnicodeDecodeError):
        return None
    layers = columns[list(meta["fields"]).index("Layer")]
    kinds = columns[list(meta["fields"]).index("SubClasses")]
    return [
        (str(kind), shapely.from_wkb(geometry, on_invalid="ignore"))
        for geometry, layer, kind in zip(geometries, layers, kinds, strict=True)
        # It draws a closed spline from (0, 0), and none that is given by points to go through;
        # one in the border of a hatch too where two knots are next to the same.
        if layer == "NAILS"
        and geometry is not None
        and not str(kind).endswith("AcDbSpline")
        and not (str(kind).endswith("AcDbHatch") and "1e-300" in text)
    ]


def _splines_seen(path):
    """Return the splines of a drawing by scipy, over the knots where each is one; those through
    points by ezdxf.
    """
    found = []
    for spline in ezdxf.readfile(path).modelspace().query("SPLINE"):
        if not spline.control_point_count():
            points = [tuple(point.vec2) for point in spline.flattening(0.01)]
        else:
            degree, knots = spline.dxf.degree, np.array(spline.knots)
            control = np.array(spline.control_points)[:, :2]
            at = np.linspace(knots[degree], knots[len(control)], 500)
            points = BSpline(knots, control, degree)(at)
        found.append(("SPLINE", shapely.LineString(points)))
    return found


@pytest.mark.parametrize("name", [name for name, mark in MARKS.items() if mark.is_read])
def test_another_reader_finds_nothing_on_a_layer_that_is_not_read(name, tmp_path):
    text = text_with(name, "NAILS")
    (tmp_path / "board.dxf").write_text(text, encoding="utf-8")
    is_spline = name.startswith("spline")
    seen = (_splines_seen if is_spline else _seen_by_another_reader)(tmp_path / "board.dxf")
    assert seen
    _check_covers(_all_of_layer(tmp_path, text), seen)


def _all_of_layer(folder, text):
    (folder / "board.dxf").write_text(text, encoding="utf-8")
    forget()
    drawn = read_rings(folder / "board.dxf", unit=None, default_unit=Unit.MM)
    rings = rings_read_whole(drawn.required("NAILS"), "NAILS", "keep-out")
    return shapely.union_all([ring.polygon.buffer(ring.width_mm / 2) for ring in rings])


def _check_covers(found, seen):
    for kind, shape in seen:
        if shape is None or shape.is_empty:
            continue
        if not np.isfinite(shapely.get_coordinates(shape)).all():
            raise AssertionError(f"{kind} has a number that is none, and was read")
        # Its arcs are cut into chords of 4 degrees: a little inside, never outside, a true arc.
        assert found.buffer(0.3).covers(shape), f"{kind} at {shape.wkt[:200]} was not read"


def test_broken_drawing_is_read_whole_or_refused_in_one_sentence(tmp_path):
    """One thing in it broken, a drawing raises nothing but its own error, and loses nothing."""
    chance = random.Random(20)
    counts = {"read": 0, "refused": 0}
    wrong = []
    for case in range(CASES):
        name = chance.choice(list(MARKS))
        layer, *_ = chance.choices(["NAILS", "EDGE"], [3, 1])
        text = broken(text_with(name, layer), chance)
        try:
            _one_broken(tmp_path, text, layer)
            counts["read"] += 1
        except DrawingError as error:
            _check_refusal(error, tmp_path)
            counts["refused"] += 1
        except ShapeError:
            counts["refused"] += 1
        except Exception as error:
            wrong.append(f"case {case}, {name} on {layer}: {error!r}"[:600])
    assert wrong == []
    assert min(counts.values()) > CASES / 10


def _one_broken(folder, text, layer):
    if layer == "EDGE":
        _board(folder, text)
        return
    _board(folder, text, outline="EDGE", keep_outs={"NAILS": "metal"})
    found = _all_of_layer(folder, text)
    assert not found.is_empty
    seen = _seen_by_another_reader(folder / "board.dxf")
    if seen is not None:
        _check_covers(found, seen)


def _mangled(content, chance):
    """Return a file with some of its bytes, or of its lines, changed, lost or doubled."""
    how = chance.choice(["bytes", "bytes", "lines", "cut", "ends"])
    if how == "bytes":
        changed = bytearray(content)
        for _ in range(chance.choice([1, 1, 5, 50])):
            changed[chance.randrange(len(changed))] = chance.randrange(256)
        return bytes(changed)
    lines = content.split(b"\n")
    at = chance.randrange(len(lines))
    if how == "lines":
        lines[at : at + chance.choice([1, 2, 9])] = [lines[at]] * chance.choice([0, 2])
    elif how == "cut":
        lines = [*lines[:at], b"  0", b"EOF"]
    else:
        return chance.choice([b"\r", b"\r\n"]).join(lines) + b"\x1a"
    return b"\n".join(lines)


@pytest.fixture(scope="session")
def files():
    """Drawings as files: as text, old, binary."""
    found = []
    for version, form in (("R2010", "asc"), ("R2010", "bin"), ("R12", "asc"), ("R12", "bin")):
        document = ezdxf.new(version)
        document.modelspace().add_polyline2d([(0, 0), (900, 0), (900, 90)], close=True)
        document.blocks.new("NAIL").add_circle((0, 0), 6)
        document.modelspace().add_blockref("NAIL", (600, 30), {"layer": "NAILS"})
        stream = io.BytesIO() if form == "bin" else io.StringIO()
        document.write(stream, fmt=form)
        content = stream.getvalue()
        found.append(content if form == "bin" else content.encode("cp1252"))
    return found


def test_mangled_file_raises_nothing_but_its_own_error(files, tmp_path):
    chance = random.Random(21)
    spec = DrawingSpec(file="board.dxf", outline="0", keep_outs={"NAILS": "metal"})
    setting = SimpleNamespace(folder=tmp_path, unit=Unit.MM)
    read, wrong = 0, []
    for case in range(CASES):
        content = _mangled(chance.choice(files), chance)
        (tmp_path / "board.dxf").write_bytes(content)
        forget()
        try:
            drawn_board(spec, setting)
            read += 1
        except (DrawingError, ShapeError) as error:
            _check_refusal(error, tmp_path)
        except Exception as error:
            wrong.append(f"case {case}: {error!r}"[:300])
    assert wrong == []
    assert read
