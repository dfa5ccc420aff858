"""Leading the fair function where the table is silent: along the edges and in every section.

Between two waterlines on a plumb side nothing is given, and the function would take over what
it learned of other sections on the same diagonal. A loftsman draws a batten there; so do these
guides, more or less firmly as the batten runs straight or bows. Figures judge, guides only lead:
they have no part in finding what is odd.
"""

from __future__ import annotations

from dataclasses import dataclass, replace

import numpy as np
from scipy.interpolate import make_interp_spline

from parts.curves import Points
from parts.lines.cloud import Cloud
from parts.lines.edges import KEPT_MM, Edges
from parts.lines.kriging import Kriging

GUIDES = 49
"""Places along the boat at which the surface is led along its edges."""

GUIDE_MM = 1.0
"""How closely."""


CLOSEST = 30
"""Points of a section closer than its girth over this are one to a batten."""

NAILINGS = 4
"""Times the function is drawn closer to what it passes by."""

SHARES = (1 / 3, 2 / 3)
"""Where along each span of a batten it leads the surface."""

END_PARTS = (0.2, 0.4, 0.6, 0.8)
END_HEIGHTS = (0.15, 0.3, 0.5, 0.7, 0.85)
"""Where between a stem and the next station, and how high in each section, it is led."""

END_DOUBT = 0.005
"""How sure that is, of the breadth from rabbet to sheer."""

BATTEN_MM, BOW_SHARE = 0.5, 0.1
"""How sure a batten is between two points, and of how it bows there."""


def led_function(cloud: Cloud) -> Kriging:
    """Return the fair function of a cloud, led along both edges and a batten in each section.

    It passes no figure that is not odd by more than about a sixteenth of an inch.
    """
    return _Guides(cloud, cloud.edges_judged).led()


@dataclass(frozen=True, eq=False)
class _Guides:
    cloud: Cloud
    edges: Edges

    def led(self) -> Kriging:
        """Return the led function."""
        function = self.cloud.judged[1]
        guides = [
            *self._edge_guides(),
            *self._section_guides(function),
            *self._end_guides(function),
        ]
        x, y, z, scatter = np.vstack(guides).T
        s, d = self.cloud.diagonals.place(y, z)
        led = Kriging(
            np.vstack([function.places, np.column_stack([self.cloud.diagonals.along(x), s - 1.0])]),
            np.concatenate([function.figures, d]),
            np.concatenate([function.scatter, scatter / self.cloud.diagonals.half_breadth]),
            function.stiffness,
        )
        return self._held(led, len(function.figures))

    def _held(self, led: Kriging, count: int) -> Kriging:
        """Return the function drawn closer to those of its first figures that it passes by.

        None of them is odd: nothing contradicts them, so the batten is nailed to them.
        """
        mm = self.cloud.rough[1][~(self.cloud.judged[0] | self.cloud.past_end)]
        for _ in range(NAILINGS):
            off = np.abs(led.figures - led.at(led.places))[:count] * mm
            if off.max() <= KEPT_MM:
                break
            scatter = led.scatter.copy()
            scatter[:count] *= np.where(
                off > KEPT_MM, KEPT_MM / (2 * np.maximum(off, KEPT_MM)), 1.0
            )
            led = replace(led, scatter=scatter)
        return led

    def _edge_guides(self) -> list[Points]:
        """Return points along the edges between the stations, x, y, z and scatter.

        Not where the hull has closed before its end.
        """
        edges = self.edges
        profile = edges.rabbet.profile
        x = profile.spline(np.linspace(0.0, profile.length, GUIDES))[:, 0]
        gone = self.cloud.table.x[
            [self.cloud.points[n][0] for n in np.flatnonzero(self.cloud.past_end)]
        ]
        afloat = np.array([not any(self._is_beyond(place, end) for end in gone) for place in x])
        return [
            np.column_stack([at, edge.plan.at(at), edge.profile.at(at), np.full(len(at), GUIDE_MM)])
            for edge, at in ((edges.sheer, x), (edges.rabbet, x[afloat]))
        ]

    def _section_guides(self, function: Kriging) -> list[Points]:
        """Return points between the figures of each section, on a batten through them.

        Where nothing is given, as between waterlines on a plumb side, the function would else
        take over what it learned of other sections at the same diagonal.
        """
        rows = np.array(self.cloud.points, dtype=float)
        kept = ~(self.cloud.judged[0] | self.cloud.past_end)
        found = []
        for n in np.unique(rows[kept, 0].astype(int)):
            here = kept & (rows[:, 0] == n)
            x = float(self.cloud.table.x[n])
            s = np.sort(self.cloud.diagonals.place(rows[here, 2], rows[here, 3])[0])
            along = np.full(len(s), self.cloud.diagonals.along(np.array(x)))
            d = function.at(np.column_stack([along, s - 1.0]))
            middle, scatter = batten_between(np.column_stack(self.cloud.diagonals.point(s, d)))
            found.append(np.column_stack([np.full(len(middle), x), middle, scatter]))
        return found

    def _end_guides(self, function: Kriging) -> list[Points]:
        """Return points of the sections between a stem and the station next to it.

        Nothing is given there but stem and sheer. The station's own section serves, drawn
        smaller to fit between them, as a hull closes in upon its stem without a new shape.
        """
        used = np.unique([point.station for point in self.cloud.points])
        found = []
        for end, is_closed, station in zip(
            self.edges.ends, self.edges.closed, (used[0], used[-1]), strict=True
        ):
            x = float(self.cloud.table.x[station])
            if is_closed:
                shape = self._shape(function, x)
                for part in END_PARTS:
                    found.append(self._drawn_smaller(shape, end + part * (x - end)))
        return found

    def _shape(self, function: Kriging, x: float) -> Points:
        """Return a section as (n, 2) parts of its breadth and of its height."""
        low, high = (np.array(end) for end in self._tips(x))
        first, last = (
            float(self.cloud.diagonals.place(end[:1], end[1:])[0][0]) for end in (low, high)
        )
        s = np.linspace(first, last, 81)
        along = np.full(len(s), self.cloud.diagonals.along(np.array(x)))
        d = function.at(np.column_stack([along, s - 1.0]))
        points = np.column_stack(self.cloud.diagonals.point(s, d))
        return np.asarray((points - low) / (high - low))

    def _drawn_smaller(self, shape: Points, x: float) -> Points:
        """Return guides at a place from the shape of another section: x, y, z and scatter."""
        low, high = (np.array(end) for end in self._tips(x))
        up = np.array(END_HEIGHTS)
        parts = np.column_stack([np.interp(up, shape[:, 1], shape[:, 0]), up])
        places = low + parts * (high - low)
        doubt = BATTEN_MM + END_DOUBT * float(high[0] - low[0])
        return np.column_stack([np.full(len(up), x), places, np.full(len(up), doubt)])

    def _tips(self, x: float) -> tuple[tuple[float, float], tuple[float, float]]:
        """Return half-breadth and height of rabbet and of sheer."""
        rabbet, sheer = self.edges.rabbet, self.edges.sheer
        return (
            (float(rabbet.plan.at(x)), float(rabbet.profile.at(x))),
            (float(sheer.plan.at(x)), float(sheer.profile.at(x))),
        )

    def _is_beyond(self, x: float, end: float) -> bool:
        """Whether a place lies between a station past the hull's end and the one before."""
        others = self.cloud.table.x[self.cloud.table.x != end]
        middle = sum(self.edges.ends) / 2
        if end > middle:
            return x > float(others[others < end].max(initial=-np.inf))
        return x < float(others[others > end].min(initial=np.inf))


def batten_between(points: Points) -> tuple[Points, Points]:
    """Return places on a batten between (n, 2) points, and how sure they are.

    Returns
    -------
    tuple
        (m, 2) places and (m,) standard deviations, mm: more where the batten bows far from
        the straight line, as there it might bow otherwise. Nothing of fewer than four points.
    """
    girth = float(np.hypot(*np.diff(points, axis=0).T).sum())
    apart = [0]
    for n in range(1, len(points)):
        if np.hypot(*(points[n] - points[apart[-1]])) > girth / CLOSEST:
            apart.append(n)
    held = points[apart]
    if len(held) < 4:
        return np.zeros((0, 2)), np.zeros(0)
    along = np.concatenate([[0.0], np.cumsum(np.hypot(*np.diff(held, axis=0).T))])
    curve = make_interp_spline(along, held, k=3)
    places, doubts = [], []
    for share in SHARES:
        bent = curve(along[:-1] + share * np.diff(along))
        bow = np.hypot(*(bent - held[:-1] - share * np.diff(held, axis=0)).T)
        places.append(bent)
        doubts.append(BATTEN_MM + BOW_SHARE * bow)
    return np.vstack(places), np.concatenate(doubts)
