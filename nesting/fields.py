"""Field types for what people write in a project file, for pydantic models.

A length field takes a bare number in the project's declared unit, or text with a unit, and
holds millimetres. The declared unit comes from the validation context (``{"unit": Unit}``);
without one, as when a model is built in Python, a bare number is millimetres. Names end in
``_mm`` or ``_deg`` in Python and lose that ending in the file, where the unit may be written.
"""

from __future__ import annotations

from collections.abc import Mapping
from types import UnionType
from typing import Annotated, Any, ClassVar, Literal, Union, get_args, get_origin

from pydantic import (
    BaseModel,
    BeforeValidator,
    ConfigDict,
    Field,
    ValidationInfo,
    WithJsonSchema,
    field_validator,
)

from nesting.errors import LengthError
from nesting.units import LEAST_SIZE_MM, Unit, parse_area, parse_length, parse_slope
from nesting.unseen import quoted


def _unit(info: ValidationInfo) -> Unit:
    context = info.context
    return context["unit"] if context and "unit" in context else Unit.MM


def _length(given: Any, info: ValidationInfo) -> float:
    return parse_length(given, _unit(info))


def _over_zero(given: Any, info: ValidationInfo) -> float:
    length = parse_length(given, _unit(info))
    if length <= 0:
        raise LengthError(f"{quoted(given)} is not over 0; a size here must be")
    if length < LEAST_SIZE_MM:
        raise LengthError(
            f"{quoted(given)} is {length:g} mm, below {LEAST_SIZE_MM:g} mm: is the unit right?"
        )
    return length


def _not_negative(given: Any, info: ValidationInfo) -> float:
    length = parse_length(given, _unit(info))
    if length < 0:
        raise LengthError(f"{quoted(given)} is below 0; a distance here must be 0 or more")
    return length


def _slope(given: Any) -> float:
    return parse_slope(given)


def _schema(description: str, examples: list[Any]) -> WithJsonSchema:
    return WithJsonSchema(
        {"type": ["number", "string"], "description": description, "examples": examples}
    )


_LENGTHS = ["1 3/4 in", "7 ft 4 1/2 in", "2.4 m", "5-7-3", 35]

Length = Annotated[
    float,
    BeforeValidator(_length),
    _schema("a length; a bare number in the project's unit", _LENGTHS),
]
"""A coordinate: any length, negative too. mm inside."""

Size = Annotated[float, BeforeValidator(_over_zero), _schema("a length over 0", _LENGTHS)]
"""A length over 0. mm inside."""

Distance = Annotated[
    float, BeforeValidator(_not_negative), _schema("a length of 0 or more", _LENGTHS)
]
"""A length of 0 or more. mm inside."""

Slope = Annotated[
    float, BeforeValidator(_slope), _schema("a slope of grain", ["1 in 12", "1 in 8", 12])
]
"""The run of a slope: 12 for 1 in 12."""

SlopeOfGrain = Annotated[
    Slope,
    Field(
        description="how far the part's grain line may lean from the board's, anywhere in the part "
        "and of a grown one all along its sweep; says nothing of its own curve, which is sawn "
        "across the grain however it lies: for that give the part run_out"
    ),
]
"""Limit on the slope of a part's own grain line to the board's. 1 in 12 is the usual one."""

WoodArea = Annotated[
    float,
    BeforeValidator(parse_area),
    WithJsonSchema(
        {
            "type": "string",
            "description": "an area of wood, with its unit",
            "examples": ["0.05 m2", "2 sq ft"],
        }
    ),
]
"""An area of wood, written with its unit. mm2 inside."""

Place = tuple[Length, Length]
"""A point [x, y] in a board's or part's frame."""


def file_name_of(field: str) -> str:
    """Return a field's name in a project file: without its unit's ending."""
    return field.removesuffix("_mm").removesuffix("_deg")


GoesWith = Mapping[str, tuple[str, tuple[object, ...]]]
"""Fields that say nothing where another holds one of some values: that other, and those values."""


class FileModel(BaseModel):
    """Base of everything read from a file: strict about names, frozen once built."""

    # Of the many models one project uses few: each is built when it is first asked for.
    model_config = ConfigDict(
        defer_build=True,
        extra="forbid",
        frozen=True,
        alias_generator=file_name_of,
        populate_by_name=True,
        allow_inf_nan=False,
    )

    goes_with: ClassVar[GoesWith] = {}
    """Which of its fields say nothing beside what another holds."""

    @field_validator("*", mode="before")
    @classmethod
    def _no_truth_for_a_number(cls, given: Any, info: ValidationInfo) -> Any:
        """Refuse true and false where a number is meant: they would count as 1 and 0."""
        truth = _truth_in(given)
        if truth and _is_number(cls.model_fields[str(info.field_name)].annotation):
            raise LengthError(f"{truth} is no number")
        return given


def _is_number(annotation: Any) -> bool:
    """Return whether an annotation is of numbers, alone, in a list, or where none may be."""
    if annotation in (int, float):
        return True
    inner = get_args(annotation)
    if get_origin(annotation) is Literal:
        return all(type(value) is int for value in inner)
    is_plain = get_origin(annotation) in (tuple, Union, UnionType, Annotated)
    return is_plain and bool not in inner and any(map(_is_number, inner))


def _truth_in(given: Any) -> str | None:
    """Return the first true or false in lists of lists, as it is written, or None."""
    if isinstance(given, bool):
        return str(given).lower()
    if isinstance(given, list | tuple):
        return next((truth for inner in given if (truth := _truth_in(inner))), None)
    return None
