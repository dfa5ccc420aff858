"""Keep-outs looked up by where they lie: of thousands on a board, few matter to one shape."""

from __future__ import annotations

from collections.abc import Callable, Iterable

import numpy as np
import shapely
from shapely.geometry.base import BaseGeometry

from nesting.rules import TOUCH_MM
from nesting.stock.keep_out import KeepOut


class KeepOutsNear:
    """Those of some keep-outs that a shape may come too near to."""

    def __init__(
        self, keep_outs: Iterable[KeepOut], matters_mm: Callable[[KeepOut], float]
    ) -> None:
        """Take them with how near to its core each of them matters."""
        self._keep_outs = list(keep_outs)
        self._tree = shapely.STRtree([keep_out.core for keep_out in self._keep_outs])
        self._furthest_mm = max(map(matters_mm, self._keep_outs), default=0.0) + TOUCH_MM

    def to(self, shape: BaseGeometry) -> list[KeepOut]:
        """Return all that can matter to a shape, and maybe more, in their order."""
        near = self._tree.query(shape, predicate="dwithin", distance=self._furthest_mm)
        return [self._keep_outs[number] for number in np.sort(near)]
