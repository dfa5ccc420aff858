import pytest

from parts.wood.sold_as import Form, sold_as
from parts.wood.timber import species_names


def test_every_wood_of_the_tables_has_its_form():
    assert [name for name in species_names() if sold_as(name) is None] == []


@pytest.mark.parametrize(
    ("wood", "forms"),
    [
        ("Douglas-fir (coast)", {Form.SAWN}),
        ("douglas-fir", {Form.SAWN}),
        ("live oak", {Form.CROOK}),
        ("white oak", {Form.SAWN, Form.CROOK}),
        ("American elm", set()),
    ],
)
def test_woods_are_sold_as_the_trade_sells_them(wood, forms):
    assert sold_as(wood).forms == forms


def test_a_fruit_wood_of_a_project_s_own_goes_by_its_last_word():
    assert sold_as("swamp apple").forms == {Form.CROOK}
    assert "fruit wood" in sold_as("swamp apple").notes[Form.CROOK]


def test_a_wood_nobody_knows_is_told_apart_from_one_nobody_sells():
    assert sold_as("moonwood") is None
    assert sold_as("") is None
    assert sold_as("rock elm").forms == set()
