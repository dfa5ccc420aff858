"""What is said of a transom: one that does not cut the hull, lies off her edges, or is not flat."""

from dataclasses import replace

import pytest
from lines_tables import box_table

from nesting.errors import ProjectFileError, ShapeError
from parts.lines import hull_of, read_table


def boxy(foot, head):
    """Return the hull of a box, 0 to 4000 mm long and 600 deep, with a transom."""
    return hull_of(replace(box_table(), transom=(foot, head), transom_at=(7, 2), file="box.csv"))


@pytest.mark.parametrize(
    ("foot", "head"),
    [
        ((3500.0, 0.0), (3900.0, 600.0)),
        ((3950.0, 0.0), (3450.0, 600.0)),
        ((4000.0, 0.0), (4000.0, 600.0)),
        # On the outside of the keel, and at the deck's edge.
        ((3500.0, -25.0), (3900.0, 620.0)),
    ],
    ids=["raked", "leaning forward", "plumb, at the last station", "over the planking"],
)
def test_transom_that_cuts_the_hull_is_taken_without_a_word(foot, head):
    assert boxy(foot, head).notes == ()


@pytest.mark.parametrize(
    ("foot", "head", "said"),
    [
        ((3500.0, 0.0), (3900.0, 960.0), "its head lies 360 mm above the sheer"),
        ((3500.0, 90.0), (3900.0, 600.0), "its foot lies 90 mm above the rabbet"),
    ],
)
def test_point_of_a_transom_off_its_edge_is_told_with_its_place(foot, head, said):
    (note,) = boxy(foot, head).notes
    assert str(note).startswith(f"box.csv:7:2: transom: {said}")


@pytest.mark.parametrize(
    ("foot", "head", "said"),
    [
        ((3900.0, 0.0), (4200.0, 600.0), "its face lies 200 mm abaft the hull's end at the sheer"),
        ((300.0, 0.0), (100.0, 600.0), "its face lies in her fore half at the rabbet"),
    ],
)
def test_transom_that_does_not_cut_the_hull_is_refused(foot, head, said):
    with pytest.raises(ShapeError, match=rf"^box.csv:7:2: transom: {said}.*from 0 mm to 4000 mm"):
        boxy(foot, head)


@pytest.mark.parametrize(
    ("row", "line"),
    [
        ("transom, 3500 0, 3700 250, 3900 600", 3),
        ("transom bow, 80", 3),
        ("bow transom, 0 0, -200 600", 3),
    ],
)
def test_transom_that_is_not_flat_or_not_at_the_stern_is_refused_in_words(tmp_path, row, line):
    path = tmp_path / "boat.csv"
    path.write_text(f"name, Boat\nunit, mm\n{row}\n")
    with pytest.raises(ProjectFileError) as caught:
        read_table(path)
    found = next(one for one in caught.value.findings if one.line == line)
    assert "is not modelled. Give transom, foot and head, where its face is flat" in found.message
