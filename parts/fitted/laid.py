"""A plank on the inner faces of the frames: its net, its edges, and where it stands laid flat."""

from __future__ import annotations

from dataclasses import dataclass, replace
from typing import TYPE_CHECKING

import numpy as np

from parts.curves import Points, distances_along
from parts.position import Position, position

if TYPE_CHECKING:
    from parts.boat.boat import Boat
    from parts.lines.develop import Development

BETWEEN_FRAMES = 4
"""Lines across a strake from one frame to the next: about every 60 mm."""

ACROSS = 3
"""Points on each of them, edge to edge."""

RISE_MM = 20.0
"""The slope of a section is taken over so much to both sides: several of its chords."""


@dataclass(frozen=True, eq=False)
class Laid:
    """A strake on the frames, and laid flat.

    Attributes
    ----------
    x
        (n,) places of the lines across it.
    net
        (n, m, 3) points on the inner faces of the frames.
    rises
        (n, 2, 3) unit directions, upward, across what the seam at each edge is square to: the
        frames' inner faces, or a neighbour that keeps its edges square.
    """

    x: Points
    net: Points
    rises: Points
    flat: Development

    @property
    def ends(self) -> tuple[Points, Points]:
        """The middles of both ends, (3,)."""
        middle = (self.net[:, 0] + self.net[:, -1]) / 2
        return middle[0], middle[-1]

    def place(self, thickness_mm: float) -> Position:
        """Return where the flat piece stands: ends on the frames, its face inward."""
        fore, aft = self.ends
        along = (aft - fore) / np.linalg.norm(aft - fore)
        up = (self.net[:, -1] - self.net[:, 0]).mean(axis=0)
        up = up - (up @ along) * along
        up = up / np.linalg.norm(up)
        flat_fore = (self.flat.net[0, 0] + self.flat.net[0, -1]) / 2
        inward = np.cross(along, up)
        origin = fore - flat_fore[0] * along - flat_fore[1] * up + thickness_mm * inward
        return position(origin, along, up)

    @property
    def inward(self) -> Points:
        """Unit directions square to the strake, into the boat, (n, 3)."""
        low, high = self.net[:, 0], self.net[:, -1]
        return _unit(np.cross(np.gradient((low + high) / 2, axis=0), high - low))

    @property
    def _leans(self) -> Points:
        """How far a seam leans upward in the strake, (n, 2).

        Over its depth into the strake; at both edges.
        """
        seams = np.cross(np.gradient(self.net[:, [0, -1]], axis=0), self.rises)
        along, deep = ((seams * ways[:, None]).sum(axis=2) for ways in (self._upward, self.inward))
        return np.asarray(along / deep)

    @property
    def _upward(self) -> Points:
        return _unit(self.net[:, -1] - self.net[:, 0])

    def edge_bevels(self) -> Points:
        """Return the bevel of both edges that close on the planks beside it, (n, 2) degrees.

        From square; positive is standing: the strake is wider on the frames.
        """
        return np.degrees(np.arctan(self._leans)) * [1.0, -1.0]

    def inner_edges(self, thickness_mm: float, *, are_closed: bool) -> Points:
        """Return both edges of the inner face, planed to close or square, (n, 2, 3)."""
        leans = self._leans if are_closed else np.zeros((len(self.x), 2))
        deep = self.inward[:, None] + leans[..., None] * self._upward[:, None]
        return np.asarray(self.net[:, [0, -1]] + thickness_mm * deep)


def below(laid: Laid, upward: Points) -> Laid:
    """Return a strake below a plank whose edges are square, to close on that.

    Parameters
    ----------
    upward
        (n, 3) directions across that plank.
    """
    return replace(laid, rises=np.stack([laid.rises[:, 0], _unit(upward)], axis=1))


def _unit(directions: Points) -> Points:
    return np.asarray(directions / np.linalg.norm(directions, axis=-1, keepdims=True))


def grid(boat: Boat, fore_mm: float, aft_mm: float) -> Points:
    """Return places along a strake: its ends, every frame, and some between; (n,)."""
    frames = boat.plan.frames
    first = frames.first_mm - np.ceil(frames.first_mm / frames.spacing_mm) * frames.spacing_mm
    step = frames.spacing_mm / BETWEEN_FRAMES
    numbers = np.arange(np.ceil((fore_mm - first) / step), np.floor((aft_mm - first) / step) + 1)
    inner = first + numbers * step
    inner = inner[(inner > fore_mm + step / 3) & (inner < aft_mm - step / 3)]
    return np.concatenate([[fore_mm], inner, [aft_mm]])


def on_frames(boat: Boat, x: Points, heights: Points) -> Laid:
    """Return the plank between (n, 2) heights of its edges, at (n,) places, laid flat."""
    # parts.lines brings scipy with it; a boat that is here has loaded it.
    from parts.lines.develop import develop

    lines = [
        _across(boat.on_frames.section(float(at)), float(at), ends)
        for at, ends in zip(x, heights, strict=True)
    ]
    net, rises = (np.array(each) for each in zip(*lines, strict=True))
    return Laid(x, net, rises, develop(net))


def _across(section: Points, x: float, heights: Points) -> tuple[Points, Points]:
    """Return a line across a strake, (m, 3), and the section's directions at its ends, (2, 3).

    The line is spread evenly along the section's girth.
    """
    along = distances_along(section)
    low, high = np.interp(heights, section[:, 1], along)
    beside = [low - RISE_MM, low + RISE_MM, high - RISE_MM, high + RISE_MM]
    at = np.concatenate([np.linspace(low, high, ACROSS), beside])
    points = np.column_stack(
        [np.full(len(at), x), *(np.interp(at, along, section[:, axis]) for axis in (0, 1))]
    )
    ends = points[ACROSS:].reshape(2, 2, 3)
    return points[:ACROSS], _unit(ends[:, 1] - ends[:, 0])
