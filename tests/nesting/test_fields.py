import pytest
from pydantic import ValidationError

from nesting.fields import Distance, FileModel, Length, Place, Size, Slope, file_name_of
from nesting.units import Unit


class Plank(FileModel):
    length_mm: Size
    sweep_mm: Length = 0.0
    inset_mm: Distance = 0.0
    rake_deg: float = 0.0
    slope_of_grain: Slope = 12.0
    at: Place = (0.0, 0.0)


def test_field_loses_its_units_ending_in_a_file():
    fields = ["length_mm", "rake_deg", "slope_of_grain", "mm_count"]
    names = ["length", "rake", "slope_of_grain", "mm_count"]
    assert [file_name_of(field) for field in fields] == names


def test_bare_number_is_in_the_unit_of_the_context():
    plank = Plank.model_validate({"length": 2, "at": [1, "1/2"]}, context={"unit": Unit.INCH})
    assert (plank.length_mm, plank.at) == (50.8, (25.4, 12.7))


def test_bare_number_is_mm_without_a_context():
    assert Plank(length_mm=900).length_mm == 900


def test_text_with_a_unit_is_read_in_any_context():
    plank = Plank.model_validate({"length": "2 m", "sweep": "-3 mm"}, context={"unit": Unit.FOOT})
    assert (plank.length_mm, plank.sweep_mm) == (2000, -3)


def test_default_is_mm_whatever_the_context():
    assert Plank.model_validate({"length": 1}, context={"unit": Unit.INCH}).slope_of_grain == 12


@pytest.mark.parametrize(
    ("data", "message"),
    [
        ({"length": 0}, "0 is not over 0; a size here must be"),
        ({"length": 1, "inset": -1}, "-1 is below 0; a distance here must be 0 or more"),
        ({"length": "long"}, "'long' is no length"),
        ({"length": 1, "slope_of_grain": "1 in x"}, "is no slope"),
        ({"length": 1, "lenght": 1}, "lenght"),
    ],
)
def test_wrong_field_says_what_is_allowed(data, message):
    with pytest.raises(ValidationError, match=message):
        Plank.model_validate(data)


def test_model_is_frozen():
    with pytest.raises(ValidationError, match="frozen"):
        Plank(length_mm=1).length_mm = 2


def test_schema_describes_every_length_with_examples():
    properties = Plank.model_json_schema()["properties"]
    assert set(properties) == {"length", "sweep", "inset", "rake", "slope_of_grain", "at"}
    assert "7 ft 4 1/2 in" in properties["length"]["examples"]
    assert properties["length"]["type"] == ["number", "string"]
