"""A table faired without some of its figures, its noise found from the rest."""

from __future__ import annotations

from dataclasses import dataclass, replace
from functools import cached_property

import numpy as np

from parts.lines.faired_edges import Edge, Edges, edges_of
from parts.lines.fits import Fit, fits_of
from parts.lines.hull_points import cloud_of
from parts.lines.laying_off import Diagonals
from parts.lines.panels import panels_of
from parts.lines.reading import Reading
from parts.lines.tolerance import rounding_mm

REPEATS = 2
"""Times that edges and surfaces are faired anew as the noise is found."""

SETTLED = 1.15
"""A noise that changes by a smaller factor is the same."""


@dataclass(frozen=True, eq=False)
class FairedTable:
    """A table faired without some figures.

    Attributes
    ----------
    all_fits
        Of each panel, from the rabbet up, the fair functions, the likeliest first.
    """

    reading: Reading
    edges: Edges
    all_fits: tuple[tuple[Fit, ...], ...]

    @property
    def best(self) -> tuple[Fit, ...]:
        """The likeliest fit of each panel."""
        return tuple(fits[0] for fits in self.all_fits)

    @property
    def by_diagonals(self) -> tuple[Fit, ...]:
        """The fits that know nothing of where the edges lie between the stations."""
        return tuple(
            next(fit for fit in fits if isinstance(fit.way, Diagonals)) for fits in self.all_fits
        )

    @cached_property
    def misfit(self) -> float:
        """How surprising all figures are, of the hull and of its edges; less is better."""
        rows = [row.misfit for edge in self.edges.each() for row in edge.rows()]
        return sum(fit.misfit for fit in self.best) + sum(rows)

    def edge_of(self, number: int) -> tuple[Edge, int] | None:
        """Return the edge that a line gives a measure of, and which; None for another line."""
        line = self.reading.table.lines[number]
        for edge in self.edges.each():
            for axis, row in enumerate(edge.rows()):
                if row.line is line:
                    return edge, axis
        return None


def faired(reading: Reading, before: FairedTable | None) -> FairedTable:
    """Return a table faired, its noise found."""
    # What looked odd bent the stiffness to suit it: without it, that is sought from the beginning.
    same = before is not None and before.reading.put == reading.put
    known = before.all_fits if before is not None and same else ()
    for _ in range(REPEATS):
        state = _faired_once(reading, known)
        noise = float(np.median([fits[0].sober_noise for fits in state.all_fits]))
        settled = 1 / SETTLED < noise / reading.noise < SETTLED
        reading, known = replace(reading, noise=noise), state.all_fits
        if settled:
            break
    return replace(state, reading=reading)


def roughly_faired(reading: Reading, before: FairedTable) -> FairedTable:
    """Return a table faired once, from nearly the same stiffness, to see what it gains."""
    return _faired_once(reading, before.all_fits)


def _faired_once(reading: Reading, known: tuple[tuple[Fit, ...], ...]) -> FairedTable:
    rounding, edges = rounding_mm(reading.table), edges_of(reading)
    panels = panels_of(edges)
    all_fits = tuple(
        fits_of(cloud_of(reading, panel), rounding, fits)
        for panel, fits in zip(panels, known or ((),) * len(panels), strict=True)
    )
    return FairedTable(reading, edges, all_fits)
