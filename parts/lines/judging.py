"""Which figures are odd, judged by all the lines that run through them.

The strangest figure is left out and all the rest faired anew; where others beside it look strange
too, or an edge that they hang on may be the one, each is tried in turn: odd is that without which
all the rest is least surprising. What then agrees with the others comes back in.
"""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass, replace

from parts.lines.edges_by_surface import edges_by_surface
from parts.lines.faired_edges import Edges, edges_of, number_of
from parts.lines.faired_table import FairedTable, faired
from parts.lines.fits import Fit
from parts.lines.hollow_bottoms import no_hollow_bottom
from parts.lines.hull_points import cloud_of
from parts.lines.odd_ones import EIGHTH_MM, SURE
from parts.lines.off_hull import above_sheer
from parts.lines.panels import panels_of
from parts.lines.proposals import proposed
from parts.lines.reading import Cell, Reading
from parts.lines.side_by_side import likely_pairs
from parts.lines.swept_figures import swept_figures
from parts.lines.table import LineKind, OffsetTable
from parts.lines.tolerance import coarsest_mm, rounding_mm
from parts.lines.turned_back import running_aft
from parts.lines.unnamed_chines import no_fading_knuckle, no_unnamed_chine
from parts.lines.verdicts import Verdict, of_edges, of_left_out, of_lines
from parts.lines.without_figures import is_at_end, left_out, misfit_without, run_on

ROUNDS = 30
"""Times that something is left out, or let in again, at most."""

LOOKED_INTO = 3.0
"""Standard deviations from which a figure is tried without: the batten may have bent to suit it, so
that it looks less strange than it is."""

LESS_SURPRISING = 18.0
"""By how much less surprising all the rest must be without a figure: what one is that is off by six
standard deviations, in the logarithm."""

OF_TWO = 30.0
"""The same without two figures of a line near each other: of 25 pairs 40 mm off, most of sheers and
rabbets, two came to 33 and 43, the others to 53 and more; right ones of 59 exact tables to 13."""

AT_CHINES_END = 27.0
"""The same of a figure at the end of a chine, where both panels beside it are narrow or steep and
gain by any freedom: of nine hulls by formulas, four of them with two chines, right ones came to 23
at most there, 25 mm wrong ones to 30 at least, most of them to over 60."""

OF_NOISE = 3.0
"""Deviations of the figures' own noise within which none is odd, however sure the others are."""

CROWD, SUSPECT = 2, 1.5
"""Strange figures at one station by which each figure of an edge there is suspected, and standard
deviations from which one is suspected beside a single strange figure."""

BEYOND_DOUBT = 12.0
"""Standard deviations from which a figure without rivals is left out without a trial."""

MOST_RIVALS = 3
"""Other strange figures near the strangest that are tried as well."""

APART = 2
"""Stations between two figures that are left out in one round, so that neither speaks for the
other."""

MOST_ODD = 3
"""One figure in so many may be odd; more is no table."""


@dataclass(frozen=True, eq=False)
class Judged:
    """A table judged.

    Attributes
    ----------
    all_fits
        Of each panel, from the rabbet up, the fair functions, the likeliest first.
    odd
        The figures left out, and what the others foretell there, mm: None where they cannot.
    misfit
        How surprising all the other figures are, in the logarithm; less is better.
    doubtful
        Figures at the ends of edges, not left out, that their own line does not run on to.
    """

    reading: Reading
    edges: Edges
    all_fits: tuple[tuple[Fit, ...], ...]
    odd: dict[Cell, float | None]
    misfit: float
    doubtful: tuple[Verdict, ...] = ()

    @property
    def state(self) -> FairedTable:
        """The table as it was faired at last."""
        return FairedTable(self.reading, self.edges, self.all_fits)

    @property
    def fits(self) -> tuple[Fit, ...]:
        """The likeliest fit of each panel, from the rabbet up."""
        return self.state.best

    @property
    def by_diagonals(self) -> tuple[Fit, ...]:
        """The fit of each panel that is laid off by diagonals."""
        return self.state.by_diagonals


def begun(table: OffsetTable) -> tuple[FairedTable, frozenset[Cell]]:
    """Return a table faired for the first time, and its figures above the sheer, left out.

    Raises
    ------
    ShapeError
        If it has too little to make a surface of, or one that is not modelled.
    """
    first = running_aft(Reading(table))
    edges = edges_of(first)
    beyond = above_sheer(first, edges)
    first = replace(first, put={**first.put, **dict.fromkeys(beyond)})
    no_hollow_bottom(first, edges)
    for panel in panels_of(edges):
        no_unnamed_chine(first, cloud_of(first, panel))
    state = run_on(faired(first, None), list(first.put))
    for fit in state.best:
        no_fading_knuckle(state.reading, fit.cloud)
    return state, beyond


def judged(table: OffsetTable) -> Judged:
    """Return a table judged.

    Raises
    ------
    ShapeError
        If it has too little to make a surface of, or one that is not modelled.
    """
    return judged_on(*begun(table))


def judged_on(state: FairedTable, beyond: frozenset[Cell]) -> Judged:
    """Return a table judged that was faired for the first time; see :func:`begun`."""
    table = state.reading.table
    kept, tried = swept_figures(state), set(state.reading.put)
    given = sum(offset is not None for line in table.lines for offset in line.offsets)
    most = len(beyond) + given / MOST_ODD
    for _ in range(ROUNDS):
        back = [
            verdict.cell
            for verdict in of_left_out(state)
            if verdict.cell not in beyond and _agrees(verdict, tried, _within_mm(state))
        ]
        out = [] if back else _worst(state, kept, tried)
        if (not back and not out) or len(state.reading.put) > most:
            break
        kept.update(back)
        if back:
            put = {cell: to for cell, to in state.reading.put.items() if cell not in back}
            state = faired(replace(state.reading, put=put), state)
        else:
            state = left_out(state, out)
    return _closed(state, beyond)


def _agrees(verdict: Verdict, tried: set[Cell], within_mm: float) -> bool:
    """Whether a figure left out agrees with the others; one tried was not judged by its doubt."""
    doubtful = verdict.strange <= SURE and verdict.cell not in tried
    return doubtful or abs(verdict.off_mm) < within_mm


def _within_mm(state: FairedTable) -> float:
    """Return how far off a figure may be that is not odd: by the table's noise, or an eighth."""
    table = state.reading.table
    return max(EIGHTH_MM, coarsest_mm(table), OF_NOISE * state.reading.noise * rounding_mm(table))


def _worst(state: FairedTable, kept: set[Cell], tried: set[Cell]) -> list[Cell]:
    """Return the figures to be left out: the worst of all, and others as bad far from it."""
    found = [
        verdict for verdict in (*of_edges(state), *of_lines(state)) if verdict.cell not in kept
    ]
    both = _side_by_side(state, kept, found)
    if both:
        tried.update(both)
        return both
    within_mm = _within_mm(state)
    strange = [verdict for verdict in found if verdict.most_off_mm > within_mm]
    strange.sort(key=lambda one: -one.most_strange)
    misfits = dict[Cell, float]()
    for n, top in enumerate(strange):
        if top.most_strange < LOOKED_INTO:
            break
        if top.is_plain:
            return [top.cell]
        rivals = list(_rivals(state, top, strange, found))
        if top.strange > BEYOND_DOUBT and not rivals:
            return [top.cell, *_as_bad(top, strange)]
        cell = _gains(state, [top.cell, *rivals], kept, misfits)
        if cell is not None:
            tried.add(cell)
            return [cell]
        if n + 1 >= MOST_RIVALS:
            break
    return []


def _as_bad(top: Verdict, strange: list[Verdict]) -> Iterator[Cell]:
    """Yield other figures that are surely odd, none near another."""
    taken = [top.cell[1]]
    for verdict in strange:
        apart = all(abs(verdict.cell[1] - station) > APART for station in taken)
        if apart and verdict.strange > max(BEYOND_DOUBT, top.strange / 2):
            taken.append(verdict.cell[1])
            yield verdict.cell


def _rivals(
    state: FairedTable, top: Verdict, strange: list[Verdict], found: list[Verdict]
) -> Iterator[Cell]:
    """Yield the figures that may be odd in place of the strangest."""
    station = top.cell[1]
    near = [
        verdict
        for verdict in strange
        if verdict is not top
        and abs(verdict.cell[1] - station) <= 1
        and verdict.most_strange > max(top.strange / 2, LOOKED_INTO)
    ][:MOST_RIVALS]
    cells = [verdict.cell for verdict in near]
    cells += [cell for cell in _ends_beside(state, top) if cell not in cells]
    yield from cells
    doubts = {verdict.cell: verdict.most_strange for verdict in found}
    crowd = sum(
        doubt > LOOKED_INTO for cell, doubt in doubts.items() if cell[1] == station
    )  # the strangest among them
    everything = crowd >= CROWD or is_at_end(state, station)
    sure = {verdict.cell for verdict in found if verdict.vouched_for or verdict.is_near}
    table = state.reading.table
    for edge in state.edges.each():
        for row in edge.rows():
            number = number_of(table, row.line)
            if number is None or table.lines[number].offsets[station] is None:
                continue
            cell = (number, station)
            if cell in cells or cell == top.cell or cell in state.reading.put or cell in sure:
                continue
            if everything or doubts.get(cell, 0.0) > SUSPECT:
                yield cell


def _ends_beside(state: FairedTable, top: Verdict) -> Iterator[Cell]:
    """Yield the end's figure of an edge that has a strange one near it: its own doubt is large."""
    number, station = top.cell
    offsets = state.reading.table.lines[number].offsets
    if state.edge_of(number) is None:
        return
    for end in range(max(station - APART, 0), min(station + APART + 1, len(offsets))):
        cell = number, end
        given = offsets[end] is not None and cell not in state.reading.put
        if given and end != station and is_at_end(state, end):
            yield cell


def _gains(
    state: FairedTable, cells: list[Cell], kept: set[Cell], misfits: dict[Cell, float]
) -> Cell | None:
    """Return the figure without which the rest is least surprising, by far; or None.

    Parameters
    ----------
    misfits
        How surprising the rest is without each that was tried: several figures have like rivals.
    """
    least, found = state.misfit, None
    for cell in cells:
        if cell in kept:
            continue
        if cell not in misfits:
            misfits[cell] = misfit_without(state, cell)
        if misfits[cell] < min(least, state.misfit - _by_far(state, cell)):
            least, found = misfits[cell], cell
    return found


def _side_by_side(state: FairedTable, kept: set[Cell], found: list[Verdict]) -> list[Cell]:
    """Return two figures of a line that speak for each other, if the rest says so; or none.

    It must say so rather than that one of them is wrong, or one between or next to them, or one of
    the strangest of all: right ones beside a wrong one may look odd together.
    """
    pairs = [pair for pair in likely_pairs(state) if kept.isdisjoint(pair)]
    misfits = {pair: misfit_without(state, *pair) for pair in pairs}
    pair = min(misfits, key=misfits.__getitem__, default=None)
    if pair is None or misfits[pair] > state.misfit - OF_TWO:
        return []
    (number, first), (_, last) = pair
    offsets = state.reading.table.lines[number].offsets
    near = range(max(first - 1, 0), min(last + 2, len(offsets)))
    strangest = sorted(found, key=lambda one: -one.most_strange)[:MOST_RIVALS]
    single = [(number, n) for n in near if offsets[n] is not None]
    single += [one.cell for one in strangest if one.cell not in single]
    left = [cell for cell in single if cell not in state.reading.put]
    least = min(misfit_without(state, cell) for cell in left)
    return list(pair) if misfits[pair] < least - LESS_SURPRISING else []


def _by_far(state: FairedTable, cell: Cell) -> float:
    """Return by how much less surprising the rest must be without a figure."""
    number, station = cell
    line = state.reading.table.lines[number]
    given = [n for n, offset in enumerate(line.offsets) if offset is not None]
    at_end = line.kind is LineKind.CHINE and station in (given[0], given[-1])
    return AT_CHINES_END if at_end else LESS_SURPRISING


def _closed(state: FairedTable, beyond: frozenset[Cell]) -> Judged:
    """Return the verdict, with each odd figure of an edge put where the others want it."""
    table, odd = state.reading.table, dict[Cell, float | None]()
    misfit = state.misfit
    put = dict(state.reading.put)
    for verdict in of_left_out(state):
        number, station = verdict.cell
        offset = table.lines[number].offsets[station]
        assert offset is not None
        odd[verdict.cell] = fair_mm = offset.mm - verdict.off_mm
        if state.edge_of(number) is not None:
            found = proposed(state, verdict.cell, fair_mm, verdict.doubt_mm)
            put[verdict.cell], odd[verdict.cell] = found, found[0]
    if table.keeps_odd:
        nailed = frozenset(state.reading.put) - beyond
        passed = replace(state.reading, put=dict.fromkeys(beyond), nailed=nailed)
        kept = edges_by_surface(faired(passed, state))
        return Judged(kept.reading, kept.edges, kept.all_fits, odd, misfit, _doubtful(state))
    reading = replace(state.reading, put=put)
    if put != state.reading.put:
        state = faired(reading, state)
    doubtful = _doubtful(state)
    state = edges_by_surface(state)
    return Judged(reading, state.edges, state.all_fits, odd, misfit, doubtful)


def _doubtful(state: FairedTable) -> tuple[Verdict, ...]:
    """Return the figures at ends of edges that look strange, and that nothing decides about."""
    return tuple(
        verdict
        for verdict in of_edges(state)
        if is_at_end(state, verdict.cell[1])
        and verdict.strange > LOOKED_INTO
        and abs(verdict.off_mm) > EIGHTH_MM
    )
