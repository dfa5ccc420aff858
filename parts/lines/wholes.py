"""Whether one line, label or station of a table is wrong as a whole, and which.

A row under another's label, a waterline as full breadth, two stations exchanged make a dozen
figures odd together, and right ones beside them. Each such slip is supposed in turn: first the
figures in question are held against the surface through all the others, then the table as it would
read is faired anew. One that leaves all of it far less surprising than as it stands is the verdict.
"""

from __future__ import annotations

from contextlib import suppress
from dataclasses import replace
from math import log

from nesting.errors import ShapeError
from parts.lines.edges_halved import edges_halved
from parts.lines.faired_table import FairedTable, roughly_faired
from parts.lines.first_look import is_sound, strange_figures, wild_without_one
from parts.lines.judging import LESS_SURPRISING, Judged, begun, judged, judged_on
from parts.lines.promising import promising
from parts.lines.reading import Cell
from parts.lines.rows import VAGUE_MM
from parts.lines.suppositions import Supposition
from parts.lines.table import EDGES, OffsetTable
from parts.lines.tolerance import NOISY
from parts.lines.why_refused import begun_or_refused
from parts.lines.without_figures import left_out

FAR = 40.0
"""By how much less surprising the table must be as it would read, in the logarithm."""

FAR_SINGLE = 25.0
"""The same of a station's place or an edge's full breadths, with fewer slips to choose among, if
no figure is odd then: of 14 places 100 mm off half came to 40 or more. A table with wrong figures
besides gains by any freedom."""

NEARLY = 30.0
"""How much more surprising a table may be faired roughly than judged at length: of 29 suppositions,
right ones and wrong ones, 26 at most."""

TRIED = 4
"""Suppositions that are faired anew, the likeliest first."""

LEFT_OUT = 30.0
"""What leaving a whole line out costs beside its figures."""


def judged_as_a_whole(table: OffsetTable) -> tuple[Judged, Supposition | None]:
    """Return a table judged, as it would read if a whole of it is wrong, and which.

    Raises
    ------
    ShapeError
        If it has too little to make a surface of, or one that is not modelled.
    """
    state, beyond = begun_or_refused(replace(table, keeps_odd=False))
    trial, verdict = _at_once(state) or _explained(judged_on(state, beyond))
    if not table.keeps_odd:
        return trial, verdict
    # The hull passes what is wrong as it stands, and it is told all the same.
    return judged(table), verdict and replace(verdict, table=table)


def _at_once(state: FairedTable) -> tuple[Judged, Supposition] | None:
    """Return a wild table as it would read, if one slip makes all of it sound; else None.

    So no figure need be judged by itself first. What leaves out a whole line is not tried.
    """
    without = wild_without_one(state)
    if without is None:
        return None
    odd: dict[Cell, float | None] = {one.cell: None for one in strange_figures(state)}
    found = Judged(state.reading, state.edges, state.all_fits, odd, state.misfit)
    least = min(state.misfit, without.misfit + LESS_SURPRISING)
    for make in promising(found)[:TRIED]:
        supposed = make()
        if supposed.lost > 1:
            continue
        try:
            trial, beyond = begun(supposed.table)
        except ShapeError:
            continue
        if is_sound(trial) and trial.misfit < least - FAR:
            return judged_on(trial, beyond), supposed
    return None


def _explained(found: Judged) -> tuple[Judged, Supposition | None]:
    """Return a table as it would read, and what of it is wrong; as it stands if that is best."""
    as_is = least = _cost(found)
    best, verdict = found, None
    # A very wrong table gains by any freedom: edges are as full breadths where all else is fair.
    for make, must_be_fair in (
        *((make, True) for make in edges_halved(found)),
        *((make, False) for make in promising(found)[:TRIED]),
    ):
        supposed = make()
        if not supposed.runs_aft or not _may_be(found, supposed, least):
            continue
        try:
            trial = _judged_so(found, supposed)
        except ShapeError:
            continue
        is_fair = not trial.odd and trial.reading.noise < NOISY
        cost, far = _cost(trial, supposed), _far(supposed) if not trial.odd else FAR
        if cost < min(least, as_is - far) and (is_fair or not must_be_fair):
            best, verdict, least = trial, supposed, cost
            if is_fair:
                break
    return best, verdict


def _judged_so(found: Judged, supposed: Supposition) -> Judged:
    """Return a table judged as it would read.

    What is odd of it and not in question is left out at first, and need not be found again; what
    agrees with the others then comes back.
    """
    state, beyond = begun(supposed.table)
    beside = [c for c in found.odd if not supposed.holds(c) and c not in state.reading.put]
    return judged_on(left_out(state, beside) if beside else state, beyond)


def _may_be(found: Judged, supposed: Supposition, least: float) -> bool:
    """Whether a table may come out the least surprising as it would read, by far.

    It is faired roughly, without what is odd of it but for what is in question, and with all of it.
    """
    reading, as_is = replace(found.reading, table=supposed.table, moved={}), _cost(found)
    beside = {cell: to for cell, to in reading.put.items() if not supposed.holds(cell)}
    for put in (beside, {}) if beside else ({},):
        with suppress(ShapeError):
            trial = roughly_faired(replace(reading, put=put), found.state)
            cost = trial.misfit + LESS_SURPRISING * len(put) + _of_lost(supposed)
            if cost - NEARLY < min(least, as_is - (FAR if put else _far(supposed))):
                return True
    return False


def _far(supposed: Supposition) -> float:
    """Return by how much less surprising a table must be as it would read."""
    of_edge = any(supposed.table.lines[n].kind in EDGES for n in supposed.lines)
    return FAR_SINGLE if of_edge or len(supposed.stations) == 1 else FAR


def _cost(found: Judged, supposed: Supposition | None = None) -> float:
    """Return how surprising a table is with all that is wrong in it, in the logarithm."""
    lost = _of_lost(supposed) if supposed else 0.0
    return found.misfit + LESS_SURPRISING * len(found.odd) + lost


def _of_lost(supposed: Supposition) -> float:
    """Return what the figures that a supposition does without cost."""
    return supposed.lost * log(VAGUE_MM) + LEFT_OUT if supposed.lost else 0.0
