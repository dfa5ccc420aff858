"""Lamellae: how thin wood must be to be glued up round a bend."""

from __future__ import annotations

LAMELLA_RADIUS = 125.0
"""Thickness of a lamella glued cold without steaming: its bend's radius over 100 to 150 (common
practice, no source); the middle of the two is used."""

THINNEST_MM = 0.6
"""Sliced veneer; nothing thinner is glued up (common practice, no source)."""

THINNEST_SAWN_MM = 2.0
"""Thinner lamellae can hardly be ripped and planed in a shop (common practice, no source)."""


def lamella_mm(radius_mm: float) -> float:
    """Return the thickness of lamellae for a bend of a radius on its inner side.

    >>> lamella_mm(250.0)
    2.0
    """
    return radius_mm / LAMELLA_RADIUS
