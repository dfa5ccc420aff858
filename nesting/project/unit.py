"""The declared unit of a file, needed before anything else in it can be read."""

from __future__ import annotations

from nesting.project.entry import Entry
from nesting.units import Unit


def unit_of(top: Entry) -> Unit | None:
    """Return the unit that a file declares, or None: then no length in it means anything."""
    given = top.data.get("unit") if isinstance(top.data, dict) else None
    return Unit(given) if given in list(Unit) else None
