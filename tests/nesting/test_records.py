"""The referee's own reader takes nothing for a drawing that is none, and leaves nothing out."""

from __future__ import annotations

from dataclasses import replace
from pathlib import Path

import pytest
from sheet_nests import sheet_of

from nesting.errors import DrawingError
from nesting.read_back.drawing import check_drawing
from nesting.sheets.drawing import Circle, Polyline, Role
from nesting.sheets.dxf import dxf_content
from nesting.sheets.read_back import read_back
from nesting.sheets.records import number_of, numbers_of
from nesting.sheets.written import Written, read_written


def written(content: bytes, tmp_path: Path) -> Written:
    path = tmp_path / "a.dxf"
    path.write_bytes(content)
    return read_written(path)


def tiny() -> bytes:
    return dxf_content(sheet_of("tiny"), "R2010")


@pytest.mark.parametrize(
    ("change", "said"),
    [
        (lambda c: c[: len(c) // 2], "cut off|without a value|must stand"),
        (lambda c: c.replace(b"  0\nEOF\n", b""), r"its end \(EOF\) is missing"),
        (lambda c: c + c, r"it goes on after its end \(EOF\)"),
        (lambda c: c.replace(b"  0\nENDSEC\n", b"", 1), "'HEADER' does not begin and end as one"),
        (lambda c: c.replace(b"\n 10\n", b"\n 1x0\n", 1), "a group code must stand where '1x0'"),
        (lambda c: c.replace(b"\n 40\n2.2\n", b"\n 40\n2_2\n", 1), "'2_2' is no number"),
        (lambda c: c.replace(b"\n 40\n2.2\n", b"\n 40\nnan\n", 1), "'nan' is no number"),
        (lambda c: c.replace(b"\n 40\n2.2\n", b"\n 40\n2,2\n", 1), "2,2"),
        (lambda c: c.replace(b"\n 40\n2.2\n", b"\n", 1), "a TEXT has no group 40"),
        (lambda c: c.replace(b"  2\nENTITIES\n", b"  2\nOTHERS\n"), "it has no 'ENTITIES'"),
        (lambda c: c.replace(b"\n 20\n10.0\n 10\n", b"\n 10\n", 1), "a corner without y"),
        (lambda c: b"", "cut off|must stand|without a value"),
        (lambda c: b"\x89PNG\xff\x00", "without a value|must stand"),
    ],
)
def test_what_is_no_drawing_is_refused_in_one_sentence(change, said: str, tmp_path: Path) -> None:
    content = change(tiny())
    assert content != tiny()
    with pytest.raises(DrawingError, match=rf"a\.dxf cannot be read as DXF: .*({said})"):
        written(content, tmp_path)


@pytest.mark.parametrize(
    ("old", "new", "said"),
    [
        (b"\n 40\n2.2\n", b"\n 40\n2.2\n 40\n2.2\n", "group 40 twice"),
        (b"100\nAcDbLine\n", b"100\nAcDbArc\n", "marked as"),
        (b"\n  8\nRULER\n", b"\n  8\nRULER\n 62\n3\n", "colour 3"),
        (b"\n  8\nRULER\n", b"\n  8\nRULER\n 48\n9.0\n", "line type scale 9.0"),
        (b"\n  8\nRULER\n", b"\n  8\nRULER\n1001\nOTHERS\n1000\nnoted\n", ""),
        (b"\n  8\nRULER\n", b"\n  8\nRULER\n 60\n0\n", ""),
        (b"\n330\n17\n100\nAcDbEntity\n  8\nRULER", b"\n330\n1B\n100\nAcDbEntity\n  8\nRULER",
         "on paper 'Print on A4'"),
        (b"\n330\n17\n100\nAcDbEntity\n  8\nRULER", b"\n330\n99\n100\nAcDbEntity\n  8\nRULER",
         "on paper 'of no block'"),
        (b"LINE\n  5\n43\n", b"LINE\n  5\n44\n", "handle 44 is there 2 times"),
        (b"  9\n$INSUNITS\n 70\n4\n", b"  9\n$INSUNITS\n 70\n1\n  9\n$INSUNITS\n 70\n4\n",
         "$INSUNITS is there 2 times"),
        (b"  0\nENDBLK\n", b"  0\nLINE\n  8\nMETAL\n  0\nENDBLK\n", "a LINE on paper 'Model'"),
        (b"  0\nSECTION\n  2\nENTITIES\n", b"999\nnoted\n  0\nSECTION\n  2\nENTITIES\n", ""),
    ],
)  # fmt: skip
def test_what_is_odd_is_told_and_what_says_nothing_is_not(
    old: bytes, new: bytes, said: str, tmp_path: Path
) -> None:
    assert old in tiny()
    found = written(tiny().replace(old, new, 1), tmp_path)
    faults = "; ".join(map(str, check_drawing(found, sheet_of("tiny"), "chip")))
    assert said in faults
    assert bool(said) == bool(faults)


def test_lines_may_end_as_other_systems_end_them(tmp_path: Path) -> None:
    content = tiny().replace(b"\n", b"\r\n") + b"\x1a"
    assert check_drawing(written(content, tmp_path), sheet_of("tiny"), "chip") == ()


def test_many_numbers_are_read_as_one_is() -> None:
    texts = ["1.5", " -2", "1e3", "0", "-0.0"]
    assert numbers_of(texts) == [number_of(text) for text in texts]
    for wrong in ("1_0", "nan", "-inf", "1e999", "1,5", "", "\u0661"):
        with pytest.raises(ValueError, match=r"is no number|could not convert"):
            number_of(wrong)
        with pytest.raises(ValueError, match=r"is no number|could not convert"):
            numbers_of([*texts, wrong, *texts])


@pytest.mark.parametrize("times", [1, 2])
@pytest.mark.parametrize("before", [b"  0\nSECTION\n  2\nHEADER", b" 20\n10.0\n", b"  0\nEOF"])
def test_comments_say_nothing_wherever_they_stand(
    before: bytes, times: int, tmp_path: Path
) -> None:
    content = tiny().replace(before, b"999\nnoted\n" * times + before, 1)
    assert content != tiny()
    assert check_drawing(written(content, tmp_path), sheet_of("tiny"), "chip") == ()


def test_a_circle_tagged_as_an_edge_is_refused(tmp_path: Path) -> None:
    sheet = sheet_of("tiny")
    edge = next(e for e in sheet.entities if isinstance(e, Polyline) and e.role is Role.BOARD)
    others = tuple(e for e in sheet.entities if e is not edge)
    disc = Circle((0, 0), 9, Role.BOARD, tag=edge.tag)
    path = tmp_path / "a.dxf"
    path.write_bytes(dxf_content(replace(sheet, entities=(disc, *others)), "R2010"))
    with pytest.raises(DrawingError, match="a circle is tagged as an edge"):
        read_back(path)
