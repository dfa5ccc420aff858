"""Numbers of a drawing read many at a time are those read one by one."""

import pytest

from nesting.dxf_file.tags import LARGEST_WHOLE, LONGEST_NUMBER, Tag, number_of, numbers_of

TEXTS = [
    "1", " 2.5 ", "-.5", "+3.", "4e2", "5E-3", "", " ", ".", "-", "e5", "1e", "1e400", "1_0", "nan",
    "inf", "500,9", "0x1", "1 2", "1.2.3", "+-1", "٣", "7\t", "8" * LONGEST_NUMBER,
    "9" * (LONGEST_NUMBER + 1), "1e-400", "2.0", str(LARGEST_WHOLE), str(LARGEST_WHOLE + 1),
]  # fmt: skip
VALUES = [*TEXTS, 1.5, 2.0, 3, float("nan"), float("inf"), b"4"]


@pytest.mark.parametrize("code", [10, 40, 70, 90, 1])
@pytest.mark.parametrize("value", VALUES, ids=repr)
def test_a_number_is_the_same_alone_and_among_plain_ones(code, value):
    odd = Tag(code, value, 8)
    among = [Tag(10, "1.25", 2), Tag(90, "7", 4), Tag(20, " -3e2", 6), odd]
    assert numbers_of(among) == [1.25, 7.0, -300.0, number_of(odd)]


def test_no_tags_have_no_numbers():
    assert numbers_of([]) == []
