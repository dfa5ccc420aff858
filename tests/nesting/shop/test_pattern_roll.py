"""Patterns on a roll: DXF, SVG and PDF agree, long ones are joined, wide ones told."""

import re
from xml.etree import ElementTree

import ezdxf
import pytest
import shapely
from pattern_parts import needs, strake, subject, usual_set
from pattern_reading import apart, joined, printed
from shapely.geometry import MultiLineString, Polygon, box

from nesting import cli
from nesting.need import Need
from nesting.outline import Mark, MarkKind, Outline
from nesting.sheets.drawing import Anchor, Text
from nesting.sheets.lettering import text_width
from nesting.shop.pattern_roll import roll_pages
from nesting.shop.patterns import pattern_files, pattern_set
from nesting.units import Unit

SVG = "{http://www.w3.org/2000/svg}"


def dxf_edges(content, folder):
    path = folder / "roll.dxf"
    path.write_bytes(content)
    document = ezdxf.readfile(path)
    assert not document.audit().errors
    lines = [
        [*((x, y) for x, y, *_ in one), *([tuple(one[0][:2])] if one.closed else [])]
        for one in document.modelspace().query('LWPOLYLINE[layer=="PATTERN_EDGE"]')
    ]
    return MultiLineString(lines)


def svg_edges(content):
    root = ElementTree.fromstring(content)
    group = next(one for one in root.iter(f"{SVG}g") if one.get("id") == "PATTERN_EDGE")
    lines = [
        [tuple(map(float, pair.split(","))) for pair in line.get("points").split()]
        for line in group.iter(f"{SVG}polyline")
    ]
    return shapely.transform(MultiLineString(lines), lambda xy: xy * (1.0, -1.0))


def test_dxf_svg_and_pdf_of_a_roll_agree(tmp_path):
    made = usual_set()
    files = dict(pattern_files(made))
    dxf = dxf_edges(files["pattern-roll.dxf"], tmp_path)
    (page,) = printed(files["pattern-roll.pdf"])
    assert page.size[1] == pytest.approx(914.4, abs=0.02)
    pdf = MultiLineString(page.edges)
    wanted = shapely.union_all([shapely.boundary(laid.shape) for laid in made.roll.laid])
    for drawn in (dxf, svg_edges(files["pattern-roll.svg"]), pdf):
        assert apart(drawn, wanted) < 0.05
    size = re.search(rb'width="([\d.]+)mm" height="([\d.]+)mm"', files["pattern-roll.svg"])
    assert float(size[2]) == pytest.approx(914.4)


def test_patterns_on_a_roll_lie_apart_and_within_it():
    roll = usual_set().roll
    whole = box(0, 0, roll.length_mm, roll.high_mm)
    shapes = [laid.shape for laid in roll.laid]
    assert len(shapes) == len(usual_set().patterns)
    for number, shape in enumerate(shapes):
        assert whole.contains(shape)
        assert all(shape.distance(other) >= 4.0 - 1e-6 for other in shapes[:number])


def test_no_word_on_a_roll_stands_past_where_its_paper_ends():
    points = [(0, 0), (230, 0), (230, 40), (60, 60), (40, 210), (0, 210)]
    bolts = [Mark(MarkKind.BOLT, ((x, 0.0), (x, 45.0)), "knee bolt", 8.0) for x in (70, 180)]
    bolts.append(Mark(MarkKind.BOLT, ((229.0, 20.0),), "to the side of the boat", 6.0))
    knee = Need.of("knee", Outline(Polygon(points), 20, marks=tuple(bolts)), ["oak"])
    made = pattern_set(subject([knee]))
    words = 0
    for page in roll_pages(made.roll, made.subject.heading):
        for one in page.entities:
            if isinstance(one, Text):
                wide = text_width(one.text, one.height_mm)
                left = one.at[0] - wide * {Anchor.LEFT: 0.0, Anchor.CENTRE: 0.5}.get(one.anchor, 1)
                assert left >= 0.0 and left + wide <= page.frame[2], one.text
                words += "bolt" in one.text or "boat" in one.text
    assert words == 3


def test_a_part_of_six_metres_is_joined_on_pages_and_on_the_roll_of_a_pdf():
    made = pattern_set(subject([Need.of("clamp", strake(6000.0), ["oak"])], unit=Unit.FOOT))
    (remark,) = made.remarks
    assert re.fullmatch(
        r"clamp takes \d+ pages of A4: A3 takes \d+ pages, and a roll takes it in one piece", remark
    )
    files = dict(pattern_files(made))
    pages = printed(files["pattern-roll.pdf"])
    assert len(pages) == 2
    assert all(page.size[0] <= 14_400 * 25.4 / 72 for page in pages)
    drawn, off = joined(pages)
    assert off < 0.1
    assert apart(drawn, made.roll.laid[0].shape.boundary) < 0.1


def test_a_part_too_large_for_the_roll_is_told_with_the_next_that_takes_it():
    wide = Need.of("bulkhead", Outline(box(0, 0, 1300, 800), 12.0), ["oak"])
    narrow = pattern_set(subject([wide, *needs()], roll_mm=609.6))
    assert any(
        "bulkhead is 800 mm across at the least, too much for the roll of 609.6 mm: a roll of "
        "914.4 mm takes it" in remark
        for remark in narrow.remarks
    )
    assert 1 not in [laid.pattern.number for laid in narrow.roll.laid]
    huge = Need.of("floor", Outline(box(0, 0, 2400, 1700), 12.0), ["oak"])
    made = pattern_set(subject([huge]))
    assert any("no usual roll is as wide; its pages joined give it" in r for r in made.remarks)
    assert [name for name, _ in pattern_files(made)] == ["patterns.pdf"]


PROJECT = """\
version: 1
name: Shop
unit: in
stock:
  - {board: A, species: teak, thickness: 1, length: 40, width: 5}
parts:
  - {part: side rail, family: plank, species: teak, shape: {length: 20, width: 3, thickness: 3/4}}
  - {part: cleat, family: plank, species: teak, shape: {length: 6, width: 2, thickness: 3/4}}
"""


@pytest.fixture
def project(tmp_path):
    path = tmp_path / "project.yaml"
    path.write_text(PROJECT)
    return path


def test_the_pattern_of_one_part_is_written_before_any_plan(project, tmp_path, capsys):
    given = ["pattern", str(project), "side rail", "-o", str(tmp_path / "out")]
    assert cli.main(given) == 0
    folder = tmp_path / "out" / "patterns"
    assert sorted(path.name for path in folder.iterdir()) == [
        "pattern-side-rail-roll.dxf",
        "pattern-side-rail-roll.pdf",
        "pattern-side-rail-roll.svg",
        "pattern-side-rail.pdf",
    ]
    assert "1 pattern on 2 pages of A4" in capsys.readouterr().out
    assert cli.main(given) == 5
    assert "pattern-side-rail" in capsys.readouterr().err
    assert cli.main([*given, "--overwrite"]) == 0


def test_nest_tells_what_is_to_be_said_of_its_patterns_and_names_them(project, tmp_path, capsys):
    project.write_text(PROJECT.replace("length: 20, width: 3", "length: 36, width: 32"))
    project.write_text(project.read_text() + "outputs: {write: [patterns], roll: 24}\n")
    assert cli.main(["nest", str(project), "-o", str(tmp_path / "out"), "--rounds", "0"]) == 0
    out, err = capsys.readouterr()
    assert "note: side rail is 32 in across at the least, too much for the roll of 24 in" in err
    assert ", patterns.pdf, pattern-roll.pdf, pattern-roll.svg, pattern-roll.dxf and summary" in out


@pytest.mark.parametrize(
    ("given", "said"),
    [
        (["side rial"], "no part is called 'side rial'; did you mean 'side rail'"),
        (["--roll", "10"], r"a roll is 10 in wide, must be from 24 in to 60 in: the next that is "
         r"sold is 24 in wide"),
        (["--roll", "wide"], "--roll: 'wide' is no length"),
    ],
)  # fmt: skip
def test_what_cannot_be_is_told_with_what_can(project, tmp_path, capsys, given, said):
    assert cli.main(["pattern", str(project), *given, "-o", str(tmp_path / "out")]) == 2
    assert said in capsys.readouterr().err
    assert not (tmp_path / "out").exists()


def test_a_roll_in_the_project_that_cannot_be_is_told_with_its_place(project, tmp_path, capsys):
    project.write_text(f"{PROJECT}outputs: {{roll: 6}}\n")
    assert cli.main(["pattern", str(project), "-o", str(tmp_path)]) == 3
    assert re.search(r"project.yaml:9:\d+: .*a roll is 6 in wide", capsys.readouterr().err)


def test_roll_is_offered_only_for_what_it_takes():
    wide = Need.of("panel", Outline(box(0, 0, 3000, 1700), 20.0), ["teak"])
    long = Need.of("lath", Outline(box(0, 0, 4000, 60), 20.0), ["teak"])
    panel, lath, none = pattern_set(subject([wide, long])).remarks
    assert panel == "panel takes 130 pages of A4: A3 takes 60 pages"
    assert lath.endswith("pages, and a roll takes it in one piece")
    assert none.startswith("panel is 1700 mm across") and "no usual roll is as wide" in none
