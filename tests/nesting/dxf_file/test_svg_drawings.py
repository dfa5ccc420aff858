"""SVG drawings: every path command, shapes, transforms, units; hostile files get one sentence."""

import math
import random

import numpy as np
import pytest
from shapely.geometry import Polygon

from nesting.dxf_file.drawn import read_rings
from nesting.dxf_file.outlines import read_outlines
from nesting.dxf_file.svg_path import path_lines
from nesting.errors import DrawingError, SalvageNestError
from nesting.project import read_project
from nesting.units import Unit

HEAD = '<svg xmlns="http://www.w3.org/2000/svg" width="600mm" height="200mm" viewBox="0 0 600 200">'


def svg(tmp_path, body, head=HEAD):
    path = tmp_path / "board.svg"
    path.write_text(f"{head}{body}</svg>", encoding="utf-8")
    return path


def only(path, **more):
    (outline,) = read_outlines(path, **more)
    return outline


def at(line, share):
    points = np.array(line.points)
    far = np.concatenate([[0], np.cumsum(np.abs(np.diff(points)))])
    return complex(*(np.interp(share * far[-1], far, part) for part in (points.real, points.imag)))


def test_every_command_absolute_and_relative_draws_the_same():
    capital = "M10 10 L110 10 H160 V60 C170 90 150 110 120 110 S80 130 60 110 Q40 90 30 100 T10 60 A20 30 15 0 1 10 30 Z"  # noqa: E501
    small = "m10 10 l100 0 h50 v50 c10 30 -10 50 -40 50 s-40 20 -60 0 q-20 -20 -30 -10 t-20 -40 a20 30 15 0 1 0 -30 z"  # noqa: E501
    one, other = (path_lines(data, 0.01)[0] for data in (capital, small))
    assert one.is_closed and other.is_closed
    assert np.allclose(one.points, other.points, atol=1e-9)


def test_curves_enclose_what_their_formulas_say():
    (line,) = path_lines("M0 0 C10 40 60 40 70 0 Q35 -30 0 0 Z", 0.01)
    mine = Polygon([(p.real, p.imag) for p in line.points])
    t = np.linspace(0, 1, 20001)
    x = 3 * (1 - t) ** 2 * t * 10 + 3 * (1 - t) * t**2 * 60 + t**3 * 70
    y = 3 * (1 - t) ** 2 * t * 40 + 3 * (1 - t) * t**2 * 40
    below = 2 / 3 * 70 * 15.0  # a parabola: two thirds of its box
    assert mine.area == pytest.approx(float(np.trapezoid(y, x)) + below, rel=1e-3)


@pytest.mark.parametrize(("large", "sweep"), [(0, 0), (0, 1), (1, 0), (1, 1)])
def test_arcs_lie_on_their_ellipse_and_go_the_right_way(large, sweep):
    (line,) = path_lines(f"M0 0A50 30 0 {large}{sweep}60 20", 0.001)
    points = np.array(line.points)
    # The middle is equally far from all points, measured in the ellipse's own scale.
    scaled = points.real / 50 + 1j * points.imag / 30
    rows = np.column_stack([2 * scaled.real, 2 * scaled.imag, np.ones(len(scaled))])
    x, y, c = np.linalg.lstsq(rows, np.abs(scaled) ** 2, rcond=None)[0]
    assert math.sqrt(c + x * x + y * y) == pytest.approx(1.0, abs=1e-6)
    turn = np.unwrap(np.angle(scaled - complex(x, y)))
    assert (turn[-1] > turn[0]) == bool(sweep)
    assert (abs(turn[-1] - turn[0]) > math.pi) == bool(large)


def test_arc_too_small_for_its_ends_is_made_larger():
    (line,) = path_lines("M0 0 A1 1 0 0 1 100 0", 0.001)
    assert max(abs(p - 50) for p in line.points) == pytest.approx(50, abs=1e-6)


def test_scale_and_direction_come_from_the_page(tmp_path):
    path = svg(
        tmp_path,
        '<path d="M0 0h300v50h-300z"/>',
        HEAD.replace("600mm", "60cm").replace("200mm", "20cm"),
    )
    shape = only(path).shape
    assert shape.bounds == pytest.approx((0, -50, 300, 0))


def test_inches_and_pixels_by_the_standard(tmp_path):
    head = '<svg xmlns="http://www.w3.org/2000/svg" width="10in" height="5in">'
    assert only(svg(tmp_path, '<rect width="96" height="1in"/>', head)).shape.area == pytest.approx(
        25.4**2
    )


def test_without_a_size_a_unit_must_be_given(tmp_path):
    path = svg(tmp_path, '<path d="M0 0h30v5h-30z"/>', '<svg xmlns="http://www.w3.org/2000/svg">')
    with pytest.raises(DrawingError, match=r"states no size.*unit:"):
        read_outlines(path)
    assert only(path, unit=Unit.CM).shape.area == pytest.approx(300 * 50)


@pytest.mark.parametrize(
    ("transform", "corner"),
    [
        ("translate(10)", (10, 0)),
        ("translate(10,20)", (10, -20)),
        ("scale(2 3)", (0, 0)),
        ("rotate(90 50 50)", (100, 0)),
        ("matrix(1 0 0 1 5 6)", (5, -6)),
        ("translate(10 20) rotate(90)", (10, -20)),
        ("skewX(45)", (0, 0)),
    ],
)
def test_transforms(tmp_path, transform, corner):
    path = svg(tmp_path, f'<g transform="{transform}"><path d="M0 0h40v20h-40z"/></g>')
    ring = only(path).outer.points
    assert min(np.hypot(*(ring - corner).T)) < 1e-9
    area = {"scale(2 3)": 6}.get(transform, 1) * 800
    assert only(path).shape.area == pytest.approx(area)


def test_shapes_uses_and_layers(tmp_path):
    body = (
        '<defs><circle id="hole" r="4"/></defs>'
        '<g id="edge"><rect width="300" height="60" rx="10"/></g>'
        '<g id="holes"><use href="#hole" x="50" y="30"/><circle cx="100" cy="30" r="5"/>'
        '<ellipse cx="200" cy="30" rx="8" ry="4"/></g><text x="5" y="5">butt</text>'
    )
    drawn = read_rings(svg(tmp_path, body), unit=None, default_unit=Unit.MM)
    rings = drawn.on("holes").rings
    assert [ring.circle is not None for ring in rings] == [True, True, False]
    assert rings[0].circle == pytest.approx((50, -30, 8))
    assert drawn.on("edge").rings[0].polygon.area == pytest.approx(
        300 * 60 - (4 - math.pi) * 100, rel=1e-3
    )


HOSTILE = {
    "no file": None,
    "empty": "",
    "no xml": "\x00\x01",
    "html": "<html/>",
    "entities": '<!DOCTYPE svg [<!ENTITY a "b">]><svg xmlns="http://www.w3.org/2000/svg"/>',
    "bad path": HEAD + '<path d="M0 0 L10"/></svg>',
    "no move": HEAD + '<path d="L10 10"/></svg>',
    "huge": HEAD + '<path d="M0 0 L1e300 1e300 L0 5z"/></svg>',
    "too huge": HEAD + '<path d="M0 0 L1e999 1 L0 5z"/></svg>',
    "bad flag": HEAD + '<path d="M0 0A1 1 0 2 1 5 5z"/></svg>',
    "itself": HEAD + '<g id="a"><use href="#a"/></g></svg>',
    "outside": HEAD + '<use href="http://example.com/a.svg#b"/></svg>',
    "bad transform": HEAD + '<path transform="spin(3)" d="M0 0h9v9z"/></svg>',
    "nothing": HEAD + "</svg>",
    "flat": HEAD + '<path transform="scale(0)" d="M0 0h99v99z"/></svg>',
    "percent": HEAD + '<rect width="50%" height="9"/></svg>',
    "deep": HEAD + "<g>" * 400 + "</g>" * 400 + "</svg>",
    "open": HEAD + '<path d="M0 0h99v99"/></svg>',
}


@pytest.mark.parametrize("what", HOSTILE)
def test_hostile_files_are_refused_in_one_sentence(tmp_path, what):
    path = tmp_path / "x.svg"
    if HOSTILE[what] is not None:
        path.write_text(HOSTILE[what])
    with pytest.raises(DrawingError) as told:
        read_outlines(path)
    assert "\n" not in str(told.value) and len(str(told.value)) < 400 and "x.svg" in str(told.value)


def test_any_broken_file_is_read_or_refused(tmp_path):
    whole = (
        HEAD + '<g transform="translate(3 4)"><path d="M0 0h99v50c-9 9 -80 9 -99 0z"/></g></svg>'
    )
    chance = random.Random(4)
    path = tmp_path / "x.svg"
    for _ in range(150):
        letters = list(whole)
        for _ in range(chance.randint(1, 4)):
            letters[chance.randrange(len(letters))] = chance.choice("0<>\"' .-eMzacQ9(")
        path.write_text("".join(letters))
        try:
            read_outlines(path)
        except SalvageNestError as error:
            assert "\n" not in str(error)


def test_a_board_and_a_part_come_from_svg(tmp_path):
    svg(
        tmp_path,
        '<path id="edge" d="M10 10h500v120h-500z"/><circle id="hole" class="holes" cx="60" cy="70" r="6"/>',  # noqa: E501
    )
    (tmp_path / "part.svg").write_text(HEAD + '<path d="M0 0h200v60h-200z"/></svg>')
    (tmp_path / "project.yaml").write_text(
        "version: 1\nname: try\nunit: mm\nstock:\n  - board: A\n    species: white oak\n"
        "    thickness: 30\n    drawing: {file: board.svg, keep_outs: {holes: hole}}\n"
        "parts:\n  - part: P\n    family: drawn outline\n    species: white oak\n"
        "    shape: {file: part.svg, thickness: 20}\n"
    )
    project = read_project(tmp_path / "project.yaml")
    (board,) = project.stock
    assert board.shape.bounds == pytest.approx((0, 0, 500, 120))
    (hole,) = board.keep_outs
    assert hole.bounding_circle == pytest.approx((50, 60, 6))
    assert project.needs[0].outline.shape.area == pytest.approx(200 * 60)
