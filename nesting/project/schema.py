"""JSON Schema of the project file and of stock files, for editors that complete and check."""

from __future__ import annotations

from collections.abc import Iterable, Mapping, Sequence
from typing import Any

from pydantic import BaseModel
from pydantic.json_schema import models_json_schema

from nesting.project.board_entry import (
    BoardEntry,
    DrawnEntry,
    MeasuredEntry,
    OutlinedEntry,
    RectangleEntry,
    StringEntry,
)
from nesting.project.fitted import PLACING
from nesting.project.project_entry import PartEntry, ProjectHead, StockFileEntry, StockHead
from nesting.project.wish_entry import WishEntry
from nesting.sources import NO_SOURCE
from parts.boat.plan import BoatPlan
from parts.registry import Families, known_families

DRAFT = "https://json-schema.org/draft/2020-12/schema"
LENGTH_EXAMPLE = "5-7-3"
"""Every length field has it among its examples, and no other field does."""

SLOPE_EXAMPLE = "1 in 12"
"""The same for slopes of grain."""

_BOARDS: tuple[type[BoardEntry], ...] = (
    RectangleEntry,
    OutlinedEntry,
    MeasuredEntry,
    StringEntry,
    DrawnEntry,
)
_TOP: tuple[type[BaseModel], ...] = (ProjectHead, PartEntry, StockFileEntry, WishEntry)


def project_schema(known: Families | None = None) -> dict[str, Any]:
    """Return the schema of a project file, with the parameters of every part family.

    ``known`` are the families, with those of a project's own; without them if not given.
    """
    known = known or known_families()
    models: list[type[BaseModel]] = [*_TOP, *_BOARDS, BoatPlan]
    models += [*known.plain.values(), *known.fitted.values()]
    defs, names = _definitions(models)
    head, part = defs.pop(names[ProjectHead]), defs.pop(names[PartEntry])
    boards: tuple[type[BaseModel], ...] = (*_BOARDS, StockFileEntry)
    head["properties"]["stock"]["items"] = _any_of(names[model] for model in boards)
    head["properties"]["wishes"]["items"] = {"$ref": f"#/$defs/{names[WishEntry]}"}
    head["properties"]["boat"] = {"$ref": f"#/$defs/{names[BoatPlan]}"}
    made = list[str]()
    for name, family in known.plain.items():
        made.append(_part_name(name))
        defs[made[-1]] = _part_of(part, name, names[family], defs[names[family]])
    for name, fitted in known.fitted.items():
        made.append(_part_name(name, "fitted"))
        defs[made[-1]] = _fitted_part_of(part, name, names[fitted], defs)
    head["properties"]["parts"]["items"] = _any_of(made)
    return {"$schema": DRAFT, "title": "Project file", **head, "$defs": defs}


def stock_schema() -> dict[str, Any]:
    """Return the schema of a stock file; what its defaults give, a board need not say."""
    defs, names = _definitions([StockHead, *_BOARDS])
    head = defs.pop(names[StockHead])
    properties: dict[str, Any] = {}
    for model in _BOARDS:
        properties |= defs.pop(names[model])["properties"]
    board = {"type": "object", "additionalProperties": False, "properties": properties}
    head["properties"]["boards"]["items"] = {**board, "required": ["board"]}
    common = {key: value for key, value in properties.items() if key not in ("board", "count")}
    head["properties"]["defaults"] = {**board, "properties": common}
    return {"$schema": DRAFT, "title": "Stock file", **head, "$defs": defs}


Names = Mapping[type[BaseModel], str]
"""What a schema calls each model: by its class, or with its module where two are called alike."""


def _definitions(models: Sequence[type[BaseModel]]) -> tuple[dict[str, Any], Names]:
    refs, schema = models_json_schema([(model, "validation") for model in models], by_alias=True)
    definitions: dict[str, Any] = schema["$defs"]
    _say_units(definitions)
    names = {model: str(refs[model, "validation"]["$ref"]).rpartition("/")[2] for model in models}
    for model, name in names.items():
        if caution := getattr(model, "caution", ""):
            definitions[name]["description"] += f"\n\n{caution}"
    return definitions, names


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


def _any_of(names: Iterable[str]) -> dict[str, Any]:
    return {"anyOf": [{"$ref": f"#/$defs/{name}"} for name in names]}


def _part_name(family: str, kind: str = "") -> str:
    return f"{kind} part {family}".title().replace(" ", "")


def _part_of(
    part: Mapping[str, Any], name: str, family: str, shape: Mapping[str, Any]
) -> dict[str, Any]:
    """Return the schema of a part of one family, its shape given by numbers."""
    properties = {
        **part["properties"],
        "family": {"const": name, "description": shape.get("description", "")},
        "shape": {"$ref": f"#/$defs/{family}"},
    }
    for key in PLACING:
        del properties[key]
    required = [*part["required"], *(["shape"] if shape.get("required") else [])]
    return {**part, "title": f"Part: {name}", "properties": properties, "required": required}


def _fitted_part_of(
    part: Mapping[str, Any], name: str, family: str, defs: dict[str, Any]
) -> dict[str, Any]:
    """Return the schema of a part of one family fitted to the lines.

    Where it stands is a key of the part, and taken out of the family's own definition.
    """
    shape = defs[family]
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
