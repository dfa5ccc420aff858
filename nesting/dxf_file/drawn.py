"""What one drawing holds: closed rings, loose curves, filled areas and what was not read."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass, replace
from functools import lru_cache
from pathlib import Path
from typing import TYPE_CHECKING

from nesting.dxf_file.rings import Curve, join
from nesting.errors import DrawingError
from nesting.units import Unit
from nesting.unseen import looked_up, one_line, quoted

if TYPE_CHECKING:
    from nesting.dxf_file.unread import Unread


@dataclass(frozen=True)
class DrawnRings:
    """The closed rings of one drawing and its loose curves, mm.

    ``fills`` are borders of hatches and other filled areas; ``unread`` is everything else. What
    a block holds stands on the layer of its insert too.
    """

    path: Path
    rings: tuple[Curve, ...]
    loose: tuple[Curve, ...]
    fills: tuple[Curve, ...]
    unread: tuple[Unread, ...]
    unit: Unit
    is_unit_stated: bool
    is_unit_guessed: bool = False

    @property
    def layers(self) -> tuple[str, ...]:
        """Layers with something on them."""
        found = {layer for item in self.unread for layer in item.layers}
        for curve in (*self.rings, *self.loose, *self.fills):
            found.update((curve.layer, *curve.layers))
        return tuple(sorted(found))

    def on(self, layer: str) -> DrawnRings:
        """Return what is on a layer; capitals do not matter."""
        wanted = looked_up(layer)
        return self._where(lambda layers: wanted in layers)

    def required(self, layer: str) -> DrawnRings:
        """Return what is on one layer; raises DrawingError if nothing is."""
        found = self.on(layer)
        if not found.layers:
            in_use = ", ".join(map(one_line, self.layers)) or "none"
            raise DrawingError(
                f"{self.path}: nothing is drawn on a layer {quoted(layer)}; layers in use: {in_use}"
            )
        return found

    def off(self, *layers: str) -> DrawnRings:
        """Return what is on no layer of some; capitals do not matter."""
        unwanted = set(map(looked_up, layers))
        return self._where(unwanted.isdisjoint)

    def _where(self, is_wanted: Callable[[frozenset[str]], bool]) -> DrawnRings:
        def of(curves: tuple[Curve, ...]) -> tuple[Curve, ...]:
            return tuple(curve for curve in curves if is_wanted(curve.all_layers))

        return replace(
            self,
            rings=of(self.rings),
            loose=of(self.loose),
            fills=of(self.fills),
            unread=tuple(item for item in self.unread if is_wanted(item.all_layers)),
        )


def read_rings(path: Path, *, unit: Unit | None, default_unit: Unit) -> DrawnRings:
    """Read a drawing's rings and loose curves; one drawing may serve many boards."""
    try:
        changed = path.stat().st_mtime_ns
    except (OSError, ValueError):
        changed = 0
    return _read_rings(path, changed, unit, default_unit)


@lru_cache(maxsize=8)
def _read_rings(path: Path, changed: int, unit: Unit | None, default_unit: Unit) -> DrawnRings:
    if path.suffix.casefold() == ".svg":
        from nesting.dxf_file.svg_shapes import read_svg

        drawn = read_svg(path, unit=unit)
    else:
        from nesting.dxf_file.curves import read_curves

        drawn = read_curves(path, unit=unit, default_unit=default_unit)
    joined = join(drawn.curves)
    return DrawnRings(
        path,
        joined.rings,
        joined.loose,
        drawn.fills,
        drawn.unread,
        drawn.unit,
        drawn.is_unit_stated,
        drawn.is_unit_guessed,
    )
