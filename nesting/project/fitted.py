"""Parts that say where they stand in the boat: from one entry to the parts it stands for."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import replace
from typing import Any

from nesting.errors import LengthError, PartError
from nesting.project.entry import Entry, Loc
from nesting.project.setting import Setting
from nesting.project.wording import did_you_mean
from nesting.unseen import quoted, short
from nesting.yaml_file.scalars import as_written
from parts.fitted.fitted import Fitted
from parts.part import Family
from parts.registry import Families

PLACING = ("at", "side")
"""Keys of a part that say where it stands; the family's own are under shape."""


def family_of(entry: Entry, known: Families) -> type[Family] | None:
    """Return the family that an entry names, fitted if it says where it stands.

    What is no text the model of the entry complains of.
    """
    name = as_written(entry.data.get("family"))
    if not isinstance(name, str):
        return None
    name = name.strip()
    if name in known.unusable:
        entry.note(("family",), f"family: {short(name)} {known.unusable[name]}")
        return None
    if name not in known.names:
        if known.is_all:
            hint = did_you_mean(name, known.names)
            entry.note(("family",), f"family: {quoted(name)} is not known, {hint}")
        return None
    if "at" in entry.data:
        return _fitted(entry, name, known)
    if "side" in entry.data:
        entry.note(("side",), "side: goes with at: say where the part stands", at_key=True)
        return None
    if name not in known.plain:
        text = f"family: {name} takes its shape from the boat's lines: say where it stands with at"
        entry.note(("family",), text)
    return known.plain.get(name)


def _fitted(entry: Entry, name: str, known: Families) -> type[Family] | None:
    found = known.fitted.get(name)
    if found is None:
        allowed = ", ".join(known.fitted)
        entry.note(
            ("at",),
            f"at: {name} takes its shape from numbers alone; fitted to the boat's lines are "
            f"{allowed}: leave at out, or choose one of them",
            at_key=True,
        )
        return None
    if "side" in entry.data and "side" not in found.model_fields:
        text = f"side: a {name} belongs to no one side of the boat: leave it out"
        entry.note(("side",), text, at_key=True)
        return None
    if "quantity" in entry.data:
        text = "quantity: at says how many there are: leave it out, or name more places"
        entry.note(("quantity",), text, at_key=True)
        return None
    return found


def fitted_parts(
    entry: Entry, family: type[Fitted], setting: Setting, slope_of_grain: float | None
) -> Iterator[tuple[str, Family]]:
    """Yield every part that one entry stands for, with its own name within the entry's."""
    shape = entry.data.get("shape", {})
    if not isinstance(shape, dict) or setting.boat_is_wrong:
        return
    data: dict[str, Any] = {**shape, **{k: entry.data[k] for k in PLACING if k in entry.data}}
    if slope_of_grain is not None and "slope_of_grain" in family.model_fields:
        data = {"slope_of_grain": slope_of_grain, **data}
    try:
        spread = list(family.spread(data))
    except (PartError, LengthError) as error:
        entry.note(("at",), f"at: {error}")
        return
    for name, one in spread:
        if not _is_in_boat(entry, family, one["at"], setting):
            continue
        title = f"{entry.title}, {name}" if name else entry.title
        block = replace(entry, data=one, title=title, to_document=_way(entry))
        if (part := block.validated(family, setting.context)) is not None:
            yield name, part


def _is_in_boat(entry: Entry, family: type[Fitted], at: Any, setting: Setting) -> bool:
    """Return whether a place is in the boat; if not, it is noted, once for all parts there."""
    if setting.boat is None:
        text = (
            "at: needs the boat's lines: name her table of offsets and her frames under boat: at "
            "the top of the project file"
        )
        entry.note(("at",), text, at_key=True)
        return False
    try:
        family.located(setting.boat, at, setting.unit)
    except (PartError, LengthError) as error:
        entry.note(("at",), f"at: {error}")
        return False
    return True


def _way(entry: Entry) -> Any:
    """Return the way back from a fitted part's data: its place stands beside its shape."""

    def to_document(inner: Loc) -> Loc:
        beside = not inner or inner[0] in PLACING
        return entry.to_document(inner if beside else ("shape", *inner))

    return to_document
