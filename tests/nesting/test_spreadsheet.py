"""CSV that no table program runs: risky texts behind an apostrophe, figures as they are."""

from __future__ import annotations

import csv
import io

import pytest

from nesting.spreadsheet import RISKY, spreadsheet
from nesting.units import Unit
from nesting.written_measures import format_length


@pytest.mark.parametrize("begin", RISKY)
def test_a_text_that_may_be_run_is_guarded(begin):
    (row,) = csv.reader(
        io.StringIO(spreadsheet([[f"{begin}cmd|'/C calc'!A0"]]).decode(), newline="")
    )
    assert row[0].startswith("'")


@pytest.mark.parametrize("mm", [-0.5, -12.7, -304.8, -1234.5, 25.4, 0.0])
@pytest.mark.parametrize("unit", Unit)
def test_figures_under_nought_stay_figures(mm, unit):
    told = [format_length(mm, unit).removesuffix(" mm").removesuffix(" in"), f"{mm:.3f}", f"{mm:g}"]
    figures = [text for text in told if not text.rstrip('"')[-1:].isalpha()]
    (row,) = csv.reader(io.StringIO(spreadsheet([figures]).decode()))
    assert row == figures
