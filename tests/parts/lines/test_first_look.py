"""Tables that are wild at first sight, and figures that nobody has far off."""

import pytest
from known_hulls import changed, full_round, table_of, v_bow
from test_wholes import doubled, labelled, numbers_of
from threadpoolctl import threadpool_limits

from parts.lines import wholes
from parts.lines.first_look import is_sound, wild_without_one
from parts.lines.judging import begun
from parts.lines.suppositions import row_shifted
from parts.lines.table import LineKind
from parts.lines.verdicts import Verdict
from parts.lines.wholes import judged_as_a_whole


@pytest.fixture(autouse=True)
def one_thread():
    with threadpool_limits(1, user_api="blas"):
        yield


def mislabelled():
    table = table_of(v_bow())
    number = numbers_of(table, LineKind.WATERLINE)[3]
    return labelled(table, number, table.lines[number].origin[1] + 250.0)


@pytest.mark.parametrize("make", [full_round, v_bow])
def test_a_table_as_it_is_is_sound_and_one_with_a_wrong_figure_is_not_wild(make):
    table = table_of(make())
    assert is_sound(begun(table)[0])
    number = numbers_of(table, LineKind.WATERLINE)[3]
    wrong, _ = begun(changed(table, {(number, 5): 100.0}))
    assert not is_sound(wrong)
    assert wild_without_one(wrong) is None


@pytest.mark.parametrize("slip", ["label", "full breadths", "row a station aft"])
def test_a_line_that_is_wrong_as_a_whole_makes_a_table_wild(slip):
    table = table_of(v_bow())
    number = numbers_of(table, LineKind.WATERLINE)[3]
    tables = {
        "label": mislabelled(),
        "full breadths": doubled(table, number),
        "row a station aft": row_shifted(table, number, -1).table,
    }
    assert wild_without_one(begun(tables[slip])[0]) is not None


def test_a_wild_table_is_explained_before_its_figures_are_judged(monkeypatch):
    judged_on, calls = wholes.judged_on, []
    monkeypatch.setattr(wholes, "judged_on", lambda *of: calls.append(of) or judged_on(*of))
    found, verdict = judged_as_a_whole(mislabelled())
    assert "its figures are those of a waterline at" in verdict.text
    assert not found.odd
    [(state, _)] = calls
    assert state.reading.table is verdict.table


@pytest.mark.parametrize(
    ("seen", "near"),
    [
        (((1.2, 9.3), (-2.2, 0.9)), True),
        (((1.2, 9.3), (-5.0, 0.9)), False),
        (((-12.0, 30.0),), False),
        ((), False),
    ],
    ids=["within an eighth", "off by one", "off, in doubt", "of no edge"],
)
def test_a_figure_is_near_if_all_that_see_it_have_it_within_an_eighth(seen, near):
    assert Verdict((0, 0), -2.2, 0.9, seen).is_near is near


def test_of_three_wrong_figures_no_slip_is_judged_at_length(monkeypatch):
    table = table_of(full_round())
    waterlines = numbers_of(table, LineKind.WATERLINE)
    cells = [(waterlines[2], 3), (waterlines[5], 7), (waterlines[4], 5)]
    wrong = changed(table, dict(zip(cells, (60.0, -45.0, 50.0), strict=True)))
    judged_on, calls = wholes.judged_on, []
    monkeypatch.setattr(wholes, "judged_on", lambda *of: calls.append(of) or judged_on(*of))
    found, verdict = judged_as_a_whole(wrong)
    assert verdict is None
    assert set(found.odd) == set(cells)
    assert len(calls) == 1
