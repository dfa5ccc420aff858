"""Drawings written by hand that say two things at once, or more than a memory holds."""

import math

import pytest

from nesting.dxf_file import curves
from nesting.dxf_file.drawn import read_rings
from nesting.dxf_file.outlines import rings_read_whole
from nesting.errors import DrawingError
from nesting.units import Unit


def section(name, body):
    return f"0\nSECTION\n2\n{name}\n{body}0\nENDSEC\n"


def written(tmp_path, entities, *, blocks="", encoding="utf-8", more=""):
    header = f"9\n$ACADVER\n1\nAC1024\n9\n$INSUNITS\n70\n4\n{more}"
    text = section("HEADER", header) + section("BLOCKS", blocks) + section("ENTITIES", entities)
    path = tmp_path / "board.dxf"
    path.write_bytes(f"{text}0\nEOF\n".encode(encoding))
    return path


def circle(layer="NAILS", x=50, radius=5, more=""):
    return f"0\nCIRCLE\n8\n{layer}\n10\n{x}\n20\n20\n40\n{radius}\n{more}"


def block(name, body, flags=0):
    return f"0\nBLOCK\n2\n{name}\n70\n{flags}\n10\n0\n20\n0\n{body}0\nENDBLK\n"


def insert(name, more=""):
    return f"0\nINSERT\n8\nNAILS\n2\n{name}\n10\n50\n20\n20\n{more}"


def nails(path, layer="NAILS"):
    drawn = read_rings(path, unit=None, default_unit=Unit.MM)
    return rings_read_whole(drawn.required(layer), layer, "keep-out")


def refusal(path):
    with pytest.raises(DrawingError) as told:
        nails(path)
    assert "\n" not in str(told.value)
    return str(told.value)


@pytest.mark.parametrize(
    ("entities", "said"),
    [
        (circle(more="40\n15\n"), "has 2 values of its radius (group 40)"),
        (circle(more="10\n150\n20\n20\n"), "has 2 values of its centre (group 10)"),
        (circle(more="8\nOTHER\n"), "is on the layers 'NAILS' and 'OTHER' at once"),
        (circle("OTHER", more="8\nNAILS\n"), "is on the layers 'OTHER' and 'NAILS' at once"),
        (
            "0\nLWPOLYLINE\n8\nNAILS\n90\n2\n70\n1\n42\n1\n10\n50\n20\n20\n10\n60\n20\n20\n",
            "has a bulge before its first corner",
        ),
        (
            "0\nLWPOLYLINE\n8\nNAILS\n70\n1\n70\n0\n10\n5\n20\n2\n10\n6\n20\n2\n10\n6\n20\n3\n",
            "has 2 values of its flags (group 70)",
        ),
    ],
)
def test_entity_that_says_two_things_is_refused(tmp_path, entities, said):
    assert said in refusal(written(tmp_path, entities))


def test_entity_that_says_one_thing_twice_is_read(tmp_path):
    (ring,) = nails(written(tmp_path, circle(more="40\n5.0\n8\nNAILS\n")))
    assert ring.circle == (50, 20, 10)


def test_block_that_is_there_twice_is_not_inserted(tmp_path):
    blocks = "".join(block("*U1", circle("0", 0, radius)) for radius in (9, 2))
    assert "'*U1' that is in the drawing twice" in refusal(
        written(tmp_path, insert("*U1"), blocks=blocks)
    )
    assert len(nails(written(tmp_path, circle(), blocks=blocks))) == 1


def test_all_that_stands_in_the_model_is_read_however_often_it_is_begun(tmp_path):
    blocks = "".join(block("*Model_Space", circle(x=x)) for x in (200, 300))
    assert len(nails(written(tmp_path, circle(), blocks=blocks))) == 3


@pytest.mark.parametrize("flags", [4, 8, 12, 40])
def test_block_of_another_file_is_told_attached_or_overlaid(tmp_path, flags):
    path = written(tmp_path, insert("X") + circle(), blocks=block("X", "", flags))
    assert "inserts 'X', which is in another file; bind it into this one" in refusal(path)


def test_circles_of_kilometres_in_rows_and_columns_are_refused(tmp_path, monkeypatch):
    monkeypatch.setattr(curves, "MOST_POINTS_IN_ALL", 200_000)
    rows = "70\n400\n71\n400\n44\n1\n45\n1\n"
    path = written(tmp_path, insert("B", rows), blocks=block("B", circle("0", 0, 1e7)))
    assert "more than 200,000 points in all" in refusal(path)


def test_accented_letters_of_layers_and_blocks_may_be_written_either_way(tmp_path):
    one, other = "N\u00e4gel", "Na\u0308gel"
    assert len(nails(written(tmp_path, circle(other)), one)) == 1
    path = written(tmp_path, insert(one), blocks=block(other, circle("0", 0)))
    assert len(nails(path)) == 1


def test_keep_out_that_leans_is_told_as_an_outline_is(tmp_path):
    path = written(tmp_path, circle(radius=10, more="210\n0\n220\n0.9\n230\n0.435\n"))
    assert "is drawn in space" in refusal(path)
    assert len(nails(written(tmp_path, circle(more="210\n0\n220\n0\n230\n-1\n")))) == 1


def test_entity_that_is_said_to_be_on_paper_and_in_the_model_is_read(tmp_path):
    (ring,) = nails(written(tmp_path, circle(more="67\n1\n67\n0\n")))
    assert ring.circle == (50, 20, 10)


def test_words_within_an_attribute_are_none_of_its_own(tmp_path):
    """An attribute of several lines holds a text of its own, with flags of its own."""
    own = "0\nATTRIB\n8\nWORDS\n10\n1\n20\n2\n40\n3\n1\nx\n2\nTAG\n70\n0\n"
    attribute = f"{own}101\nEmbedded Object\n70\n1\n"
    entities = f"0\nINSERT\n8\nNAILS\n66\n1\n2\nB\n10\n50\n20\n20\n{attribute}0\nSEQEND\n"
    (ring,) = nails(written(tmp_path, entities, blocks=block("B", circle("0", 0))))
    assert ring.circle == (50, 40, 10)


def test_header_that_says_two_units_is_refused(tmp_path):
    path = written(tmp_path, circle(), more="9\n$INSUNITS\n70\n1\n")
    assert "the header's unit is 4 and 1; save it again" in refusal(path)
    assert len(nails(written(tmp_path, circle(), more="9\n$INSUNITS\n70\n4\n"))) == 1


@pytest.mark.parametrize(("fit", "across"), [(0, 40), (2, 40), (4, 20)])
def test_corner_of_a_frame_is_off_the_line_only_where_a_spline_was_fitted(tmp_path, fit, across):
    corners = [(50, 20, 0), (70, 20, 0), (90, 40, 16), (70, 40, 0), (50, 40, 0)]
    vertices = "".join(
        f"0\nVERTEX\n8\nNAILS\n10\n{x}\n20\n{y}\n70\n{flag}\n" for x, y, flag in corners
    )
    line = f"0\nPOLYLINE\n8\nNAILS\n66\n1\n70\n{fit | 1}\n{vertices}0\nSEQEND\n"
    (ring,) = nails(written(tmp_path, line))
    assert ring.polygon.bounds == (50, 20, 50 + across, 40)


def half_disc(x, radius, *, counterclockwise, rounding):
    """A hatch along an arc and its chord; the chord's ends are off by a rounding, mm."""
    turn, (start, end) = int(counterclockwise), (0, 180) if counterclockwise else (180, 360)
    first, last = (-1, 1) if counterclockwise else (1, -1)
    arc = f"72\n2\n10\n{x}\n20\n20\n40\n{radius}\n50\n{start}\n51\n{end}\n73\n{turn}\n"
    ends = [
        f"{x + side * radius!r}\n2{n}\n{20 + rounding!r}\n" for n, side in ((0, first), (1, last))
    ]
    chord = f"72\n1\n10\n{ends[0]}11\n{ends[1]}"
    head = "0\nHATCH\n5\nC4\n8\nNAILS\n10\n0\n20\n0\n30\n0\n2\nSOLID\n70\n1\n71\n0\n91\n1\n92\n1\n"
    return f"{head}93\n2\n{arc}{chord}97\n0\n75\n0\n76\n1\n98\n0\n"


@pytest.mark.parametrize("counterclockwise", [True, False])
@pytest.mark.parametrize("rounding", [0.0, 1e-12, -1e-12, 1e-7, -1e-7, 4e-4, -4e-4])
@pytest.mark.parametrize("radius", [5.0, 9.10218579380298, 7.2417411438654])
def test_hatch_along_edges_that_meet_but_for_a_rounding_is_read(
    counterclockwise, rounding, radius, tmp_path
):
    entity = half_disc(50, radius, counterclockwise=counterclockwise, rounding=rounding)
    (ring,) = nails(written(tmp_path, entity))
    assert ring.polygon.area == pytest.approx(math.pi * radius**2 / 2, rel=0.02)
    assert ring.polygon.bounds == pytest.approx(
        (50 - radius, 20, 50 + radius, 20 + radius), abs=0.06
    )
