"""JSON Schema of the project file and of stock files, for editors that complete and check."""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from typing import Any

from pydantic import BaseModel
from pydantic.json_schema import models_json_schema

from nesting.project.board_entry import (
    BoardEntry,
    DrawnEntry,
    MeasuredEntry,
    OutlinedEntry,
    RectangleEntry,
)
from nesting.project.fitted import PLACING
from nesting.project.project_entry import PartEntry, ProjectHead, StockFileEntry, StockHead
from nesting.sources import NO_SOURCE
from parts.boat.plan import BoatPlan
from parts.registry import families, fitted_families

DRAFT = "https://json-schema.org/draft/2020-12/schema"
LENGTH_EXAMPLE = "5-7-3"
"""Every length field has it among its examples, and no other field does."""

SLOPE_EXAMPLE = "1 in 12"
"""The same for slopes of grain."""

_BOARDS: tuple[type[BoardEntry], ...] = (RectangleEntry, OutlinedEntry, MeasuredEntry, DrawnEntry)
_TOP: tuple[type[BaseModel], ...] = (ProjectHead, PartEntry, StockFileEntry)


def project_schema() -> dict[str, Any]:
    """Return the schema of a project file, with the parameters of every part family."""
    plain, fitted = families(), fitted_families()
    defs = _definitions([*_TOP, *_BOARDS, BoatPlan, *plain.values(), *fitted.values()])
    head, part = defs.pop(ProjectHead.__name__), defs.pop(PartEntry.__name__)
    head["properties"]["stock"]["items"] = _any_of([*_BOARDS, StockFileEntry])
    head["properties"]["boat"] = {"$ref": f"#/$defs/{BoatPlan.__name__}"}
    for name, family in plain.items():
        defs[_part_name(name)] = _part_of(part, name, family, defs[family.__name__])
    for name, family in fitted.items():
        defs[_part_name(name, "fitted")] = _fitted_part_of(part, name, family, defs)
    names = [_part_name(name) for name in plain]
    names += [_part_name(name, "fitted") for name in fitted]
    head["properties"]["parts"]["items"] = {
        "anyOf": [{"$ref": f"#/$defs/{name}"} for name in names]
    }
    return {"$schema": DRAFT, "title": "Project file", **head, "$defs": defs}


def stock_schema() -> dict[str, Any]:
    """Return the schema of a stock file; what its defaults give, a board need not say."""
    defs = _definitions([StockHead, *_BOARDS])
    head = defs.pop(StockHead.__name__)
    properties: dict[str, Any] = {}
    for model in _BOARDS:
        properties |= defs.pop(model.__name__)["properties"]
    board = {"type": "object", "additionalProperties": False, "properties": properties}
    head["properties"]["boards"]["items"] = {**board, "required": ["board"]}
    common = {key: value for key, value in properties.items() if key not in ("board", "count")}
    head["properties"]["defaults"] = {**board, "properties": common}
    return {"$schema": DRAFT, "title": "Stock file", **head, "$defs": defs}


def _definitions(models: Iterable[type[BaseModel]]) -> dict[str, Any]:
    _, schema = models_json_schema([(model, "validation") for model in models], by_alias=True)
    definitions: dict[str, Any] = schema["$defs"]
    _say_units(definitions)
    for model in models:
        if caution := getattr(model, "caution", ""):
            definitions[model.__name__]["description"] += f"\n\n{caution}"
    return definitions


def _say_units(schema: Any) -> None:
    """Write the defaults of lengths with their unit: a bare number would be the project's."""
    if isinstance(schema, list):
        for inner in schema:
            _say_units(inner)
    if not isinstance(schema, dict):
        return
    default = schema.get("default")
    is_length = LENGTH_EXAMPLE in schema.get("examples", ())
    if is_length and isinstance(default, int | float):
        schema["default"] = f"{default:g} mm"
    if SLOPE_EXAMPLE in schema.get("examples", ()) and isinstance(default, int | float):
        schema["description"] += f"; 1 in {default:g} if not given ({NO_SOURCE})"
    for inner in schema.values():
        _say_units(inner)


def _any_of(models: Iterable[type[BaseModel]]) -> dict[str, Any]:
    return {"anyOf": [{"$ref": f"#/$defs/{model.__name__}"} for model in models]}


def _part_name(family: str, kind: str = "") -> str:
    return f"{kind} part {family}".title().replace(" ", "")


def _part_of(
    part: Mapping[str, Any], name: str, family: type[BaseModel], shape: Mapping[str, Any]
) -> dict[str, Any]:
    """Return the schema of a part of one family, its shape given by numbers."""
    properties = {
        **part["properties"],
        "family": {"const": name, "description": shape.get("description", "")},
        "shape": {"$ref": f"#/$defs/{family.__name__}"},
    }
    for key in PLACING:
        del properties[key]
    required = [*part["required"], *(["shape"] if shape.get("required") else [])]
    return {**part, "title": f"Part: {name}", "properties": properties, "required": required}


def _fitted_part_of(
    part: Mapping[str, Any], name: str, family: type[BaseModel], defs: dict[str, Any]
) -> dict[str, Any]:
    """Return the schema of a part of one family fitted to the lines.

    Where it stands is a key of the part, and taken out of the family's own definition.
    """
    shape = defs[family.__name__]
    places = {key: shape["properties"].pop(key) for key in PLACING if key in shape["properties"]}
    shape["required"] = [key for key in shape["required"] if key not in PLACING]
    made = _part_of(part, name, family, shape)
    properties = {**made["properties"], **places}
    del properties["quantity"]
    return {
        **made,
        "title": f"Part: {name}, fitted to the lines",
        "properties": properties,
        "required": [*made["required"], "at"],
    }
