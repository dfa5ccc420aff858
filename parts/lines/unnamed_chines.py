"""Chines that a table has and does not name: they would be faired into a round bilge.

In a section of straight or easily bent panels nearly all the turning is between two neighbouring
figures. Where most sections are like that, there is a chine, and the table is refused until it
says where: between two figures nobody can know it to the millimetre.
"""

from __future__ import annotations

from collections.abc import Iterator

import numpy as np

from nesting.errors import ShapeError
from parts.curves import Points
from parts.lines.hull_points import END, Cloud
from parts.lines.quick_turns import Broken, is_knuckle, quick_turn
from parts.lines.reading import Reading
from parts.lines.tolerance import step_mm

NEARLY_ALL, AT_TWO = 0.85, 0.97
"""Part of a section's turning that is at one place, or at two, in a section of straight panels. At
most stations round hulls of the tests reach 0.61 and 0.89."""

MUCH, QUICKLY = 0.7, 10.0
"""Part of the turning that is at one place between bent panels, and how many times as much it turns
there over the girth as elsewhere. Round hulls reach 0.61, and 5."""

SHARP_DEG = 15.0
"""A section that turns by less at one place may bend that much."""

FEWEST_IN_SECTION, FEWEST_SECTIONS, MOST_SECTIONS = 6, 4, 0.7
"""Figures of a section that can show it; how many sections, and which part of them, must."""

IN_A_ROW, ALONE, CLEARLY_DEG = 4, 0.92, 20.0
"""Stations in a row at which a section of straight panels must turn at one place alone, by what
part of all its turning and by how much at least, for a knuckle that begins or ends within the hull.
Where round hulls look so at some stations, it is 0.89 of their turning at most."""

NEAR = 0.3
"""Parts of the greatest half-breadth and depth by which the place may move to the next station: a
line of figures lies at another place of a knuckle that runs across it."""

CLOSE_MM = 25.0
"""Figures nearer to each other than this say nothing of how a section turns."""


def no_unnamed_chine(reading: Reading, cloud: Cloud) -> None:
    """Refuse a panel that is broken along a line that the table does not name.

    Raises
    ------
    ShapeError
        With stations and places.
    """
    table = reading.table
    if table.is_round:
        return
    looked = [
        (station, _broken(section, step_mm(table))) for station, section in _to_show_it(cloud)
    ]
    found = [(station, broken) for station, broken in looked if broken is not None]
    if len(found) >= max(FEWEST_SECTIONS, MOST_SECTIONS * len(looked)):
        station, broken = found[len(found) // 2]
        where = _where(table.stations[station].name, broken)
        raise ShapeError(
            f"{table.place_at(station)}: the sections turn sharply at one place, {where}: if that "
            "is a chine, give its heights and half-breadths, a line named chine under both "
            "headings; if it is round, say bilge: round"
        )
    alone = [
        (station, broken if broken and _is_alone(broken) else None) for station, broken in looked
    ]
    _refuse(reading, _in_a_row(alone, cloud))


def no_fading_knuckle(reading: Reading, cloud: Cloud) -> None:
    """Refuse a panel with a knuckle between bent panels, by figures whose noise is known.

    Raises
    ------
    ShapeError
        With stations and places.
    """
    if reading.table.is_round:
        return
    step = step_mm(reading.table) * max(reading.noise, 1.0)
    run = _in_a_row(
        [(station, quick_turn(section, step)) for station, section in _to_show_it(cloud)], cloud
    )
    if is_knuckle([broken for _, broken in run]):
        _refuse(reading, run)


def _to_show_it(cloud: Cloud) -> list[tuple[int, Points]]:
    """Return the stations with figures enough to show a chine, and their points."""
    return [one for one in _sections(cloud) if len(one[1]) >= FEWEST_IN_SECTION]


def _refuse(reading: Reading, run: list[tuple[int, Broken]]) -> None:
    """Refuse a knuckle at stations in a row, if there are enough of them."""
    if len(run) < IN_A_ROW:
        return
    table, (station, broken) = reading.table, run[len(run) // 2]
    where = _where(table.stations[station].name, broken)
    names = [table.stations[run[end][0]].name for end in (0, -1)]
    raise ShapeError(
        f"{table.place_at(station)}: from station {names[0]} to {names[1]} the sections "
        f"turn sharply at one place, {where}: a chine or knuckle that "
        "begins or ends within the hull is not modelled; if it runs on to both ends, give its "
        "heights and half-breadths there too, a line named chine under both headings; if it "
        "is round, say bilge: round"
    )


def _where(name: str, broken: Broken) -> str:
    low, high = (f"{y:.0f} mm out, {z:.0f} mm high" for y, z in (broken.low, broken.high))
    if low == high:
        return f"at station {name} at {low}"
    return f"at station {name} between {low} and {high}"


def _is_alone(broken: Broken) -> bool:
    """Whether a section turns at one place and nowhere else."""
    return broken.share > ALONE and broken.turn_deg > CLEARLY_DEG


def _in_a_row(looked: list[tuple[int, Broken | None]], cloud: Cloud) -> list[tuple[int, Broken]]:
    """Return the longest run of stations that turn sharply at one place, near the one before."""
    widest, _, depth = cloud.panel.units
    best, run = list[tuple[int, Broken]](), list[tuple[int, Broken]]()
    for station, broken in looked:
        if broken is None:
            run = []
            continue
        moved = np.abs(broken.low - run[-1][1].low) if run else np.zeros(2)
        near = bool((moved < NEAR * np.array([widest, depth])).all())
        run = [*(run if near else []), (station, broken)]
        best = max(best, run, key=len)
    return best


def _sections(cloud: Cloud) -> Iterator[tuple[int, Points]]:
    """Yield the points of each station from the keel up, (n, 2), without those too close."""
    widest, _, depth = cloud.panel.units
    here = cloud.lines != END
    for station in np.unique(cloud.stations[here]):
        points = cloud.points[here & (cloud.stations == station)][:, 1:]
        points = points[np.argsort(points[:, 0] / widest + points[:, 1] / depth)]
        kept = [points[0]]
        for point in points[1:]:
            if np.hypot(*(point - kept[-1])) > CLOSE_MM:
                kept.append(point)
        yield int(station), np.array(kept)


def _broken(section: Points, step: float) -> Broken | None:
    """Return where a section turns, if it does so there alone."""
    runs = np.diff(section, axis=0)
    lengths = np.hypot(*runs.T)
    heading = np.unwrap(np.arctan2(runs[:, 1], runs[:, 0]))
    # What rounding can turn is no turn.
    unsure = np.degrees(step / lengths[:-1] + step / lengths[1:])
    turns = np.maximum(np.abs(np.degrees(np.diff(heading))) - unsure, 0.0)
    if len(turns) < 3 or turns.sum() < SHARP_DEG:
        return None
    pairs = turns[:-1] + turns[1:]
    most, whole = int(pairs.argmax()), float(turns.sum())
    if pairs[most] < SHARP_DEG / 2 or not _is_sharp(pairs, most, whole, lengths):
        return None
    one = float(pairs[most])
    return Broken(section[most + 1], section[most + 2], one, one / whole)


def _is_sharp(pairs: Points, most: int, whole: float, lengths: Points) -> bool:
    """Return whether a section turns as one of panels does."""
    one = float(pairs[most])
    others = pairs.copy()
    others[max(most - 1, 0) : most + 2] = 0.0
    if len(pairs) >= FEWEST_IN_SECTION and one + others.max() > AT_TWO * whole:
        return True
    span = float(lengths[most + 1] + (lengths[most] + lengths[most + 2]) / 2)
    rest = float(lengths.sum()) - span
    quick = one / span > QUICKLY * (whole - one) / rest
    return one > NEARLY_ALL * whole or (one > MUCH * whole and quick)
