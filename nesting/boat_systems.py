"""What belongs together in a boat: the system that each family of parts is of."""

from __future__ import annotations

SYSTEMS = {
    "floors": ("floor timber", "floor plate"),
    "deck": ("deck beam", "half beam", "house beam", "carlin"),
    "sole": ("sole beam",),
    "knees": ("knee", "hanging knee", "lodging knee", "quarter knee", "breasthook"),
    "inside planking": ("ceiling strake", "clamp"),
}
"""What belongs together in a boat, by families; all that a project knows of it."""

OTHER = "other"


def system_of(family: str) -> str:
    """Return the system of the boat that a family belongs to.

    >>> system_of("carlin"), system_of("plank")
    ('deck', 'other')
    """
    return next((name for name, some in SYSTEMS.items() if family in some), OTHER)
