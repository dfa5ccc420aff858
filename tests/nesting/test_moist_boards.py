"""Boards wetter than wood is built in: told once, with what the widest part loses."""

from __future__ import annotations

import pytest
from project_texts import BOARD, HEAD, PART, only_blocks, project_text, written

from nesting.project import read_project
from nesting.remarks import remarks
from nesting.remarks.moist_boards import moist_boards

OWN_WOODS = ("bog wood", "marine plywood")
"""Woods that the table does not hold, which a project names."""


@pytest.fixture(autouse=True)
def only_block_family(monkeypatch):
    monkeypatch.setattr("nesting.project.own_families.known_families", only_blocks)


def told(folder, *percents, part=PART, species="teak"):
    boards = [
        BOARD.replace("D-01", f"D-{number:02}")
        .replace("teak", species)
        .replace("thickness: 40", f"thickness: 40, moisture: {percent}")
        for number, percent in enumerate(percents, 1)
    ]
    head = HEAD + f"species: [{species}]\n" * (species in OWN_WOODS)
    text = project_text(head=head, stock="".join(boards), parts=part.replace("teak", species))
    return [found.message for found in remarks(read_project(written(folder, text)), [moist_boards])]


@pytest.mark.parametrize(("percent", "is_told"), [(12, False), (18, False), (18.5, True)])
def test_board_is_told_past_eighteen_per_cent(tmp_path, percent, is_told):
    found = told(tmp_path, percent)
    assert len(found) == is_told
    assert all("D-01 (18.5 %): wetter than 18 %" in message for message in found)


def test_many_boards_are_one_remark_that_names_the_wettest_of_a_wood(tmp_path):
    (message,) = told(tmp_path, 40, 22, 31, 15, 24, 25)
    assert message.startswith("D-01 (40 %), D-02 (22 %), D-03 (31 %), D-05 (24 %)")
    assert "pad of D-01 by up to " in message
    assert "D-04" not in message


def test_change_is_that_of_the_wider_shrinkage_rounded_up(tmp_path):
    """White oak, 10.5 % tangential (the table's): from 30 % to 15 % by eq. 13-3, of 60 mm."""
    share = 15 / (3000 / 10.5 - 30 + 30)
    loss = 60 * share / (1 - share)
    (message,) = told(tmp_path, 30, species="white oak")
    shown = float(message.split("by up to ")[1].split(" mm")[0])
    assert loss <= shown < loss + 0.1


def test_part_that_asks_for_some_moisture_knows_of_it(tmp_path):
    asks = PART.replace("species: [teak]", "species: [teak], moisture: [10, 30]")
    assert told(tmp_path, 25, part=asks) == []


def test_wood_without_figures_and_sheets(tmp_path):
    (message,) = told(tmp_path, 25, species="bog wood")
    assert "by up to" not in message
    assert "shrinks: let it dry first" in message
    assert told(tmp_path, 25, species="marine plywood") == []
