"""Names of files for named things."""

import re

import pytest

from nesting.folders.file_names import file_names, sheet_names, stem_of
from nesting.shop.kinds import FILES, Output


def test_leaf_is_not_mistaken_for_a_board_called_as_its_file_would_be():
    for names in (["E-1/1", "E-1/2", "E-1-1"], ["E-1-1", "E-1/1", "E-1/2"]):
        assert sheet_names(names) == {
            "E-1-1": "board-E-1-1.dxf",
            "E-1/1": "board-E-1_1.dxf",
            "E-1/2": "board-E-1-2.dxf",
        }


@pytest.mark.parametrize(
    "names",
    [
        ["e-1", "E-1", "E-1-2"],
        ["E-1/1", "E-1_1", "E-1-1", "E 1 1"],
        ["E/1", "E 1", "E-1", "E-1-2", "E-1-3", "e-1-2"],
    ],
)
def test_file_called_exactly_as_a_board_is_that_boards(names):
    found = file_names(names, ending="")
    assert list(found) == names
    assert len({stem.casefold() for stem in found.values()}) == len(names)
    for name, stem in found.items():
        others = {other for other in names if other != name and other.casefold() != name.casefold()}
        assert stem not in others


@pytest.mark.parametrize(
    ("name", "stem"),
    [
        ("Ümläut Ä 1", "Umlaut-A-1"),
        ("борт/2", "борт-2"),
        ("木の板", "木の板"),
        ("की 1", "की-1"),
        ("a: b?*|", "a-b"),
        (".hidden.", "hidden"),
        ("?!", "x"),
    ],
)
def test_letters_of_every_script_stay_in_a_files_name(name, stem):
    assert stem_of(name) == stem


def test_names_of_other_scripts_are_told_apart_by_their_letters():
    found = sheet_names(["Борт 1", "Доска 1"])
    assert set(found.values()) == {"board-Борт-1.dxf", "board-Доска-1.dxf"}


def test_longest_names_are_cut_to_what_a_file_system_takes_and_told_apart():
    names = ["板" * 90 + end for end in ("a", "b")]
    found = sheet_names(names)
    assert len(set(found.values())) == 2
    assert all(len(name.encode()) <= 255 for name in found.values())


@pytest.mark.parametrize("name", ["Ümläut Ä 1", "木の板", "की 1"])
def test_every_name_is_known_again_as_one_of_ours(name):
    (made,) = file_names([name], prefix="machine-", ending=".dxf").values()
    assert re.fullmatch(FILES[Output.MACHINE], made)
    assert not re.fullmatch(FILES[Output.MACHINE], "machine-a/../b.dxf")
