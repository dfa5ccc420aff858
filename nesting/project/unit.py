"""The declared unit of a file, needed before anything else in it can be read."""

from __future__ import annotations

from nesting.units import Unit
from nesting.yaml_file.document import Document


def unit_of(document: Document) -> Unit | None:
    """Return the unit that a file declares, or None: then no length in it means anything."""
    node = document.root.child("unit")
    given = None if node is None else node.data()
    return Unit(given) if isinstance(given, str) and given in list(Unit) else None
