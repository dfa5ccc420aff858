"""A refusal says by which slip of one line it would be none, and only then."""

import pytest
from hulls_apart import fading_knuckle
from known_hulls import dory, single_chine, table_of
from test_wholes import doubled, numbers_of

from nesting.errors import ShapeError
from parts.lines import hull_of
from parts.lines.table import LineKind


@pytest.mark.parametrize("make", [dory, single_chine])
def test_full_breadths_of_a_chine_are_told_where_its_sections_are_refused(make):
    table = table_of(make())
    number = numbers_of(table, LineKind.CHINE)[1]
    with pytest.raises(ShapeError) as refused:
        hull_of(doubled(table, number))
    said = str(refused.value)
    assert "the sections turn sharply at one place" in said
    assert said.endswith(
        "But with half of what chine half-breadth has, if those are full breadths, she is fair: "
        "look that up first"
    )


def test_a_knuckle_that_is_not_modelled_is_explained_by_no_line():
    with pytest.raises(ShapeError, match="turn sharply") as refused:
        hull_of(table_of(fading_knuckle()))
    assert "But" not in str(refused.value)
