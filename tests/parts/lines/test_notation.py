import pytest

from nesting.units import Unit, parse_length
from parts.lines.notation import written_like


@pytest.mark.parametrize(
    ("mm", "given", "unit", "written"),
    [
        (29.8125 * 25.4, "2-7-6+", Unit.FOOT, "2-5-6+"),
        (21.5 * 25.4, "1-09-4+", Unit.FOOT, "1-09-4"),
        (547.7, "2-5-0", Unit.FOOT, "1-9-4+"),
        (11.99 * 25.4, "0-9-7", Unit.FOOT, "1-0-0"),
        (0.0, "0-9-7", Unit.FOOT, "0-0-0"),
        (752.6, "808", Unit.MM, "753"),
        (752.6, "808.25", Unit.MM, "752.60"),
        (752.6, "0.81", Unit.M, "0.753"),
        (752.6, "2.5", Unit.FOOT, "2.47"),
        (752.6, "31 3/4 in", Unit.FOOT, "29 5/8 in"),
        (752.6, "2 ft 7 3/4 in", Unit.INCH, "2 ft 5 5/8 in"),
        (752.6, "808 mm", Unit.FOOT, "753 mm"),
        (752.6, "31 3/4", Unit.INCH, "29 5/8 in"),
        (752.6, "0.8 m", Unit.FOOT, "0.753 m"),
    ],
)
def test_length_is_written_as_the_figure_it_is_held_against(mm, given, unit, written):
    assert written_like(mm, given, unit) == written
    coarsest = 25.4 / 16
    assert parse_length(written, unit) == pytest.approx(mm, abs=coarsest)
