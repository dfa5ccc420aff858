"""The lines of a hull: from a builder's table of offsets to every shape that parts need.

How it works, from the table to the part:

1. :mod:`~parts.lines.read_table` reads a YAML or CSV file (:mod:`~parts.lines.cells` says what
   is wrong in it, with file and line) into an :class:`~parts.lines.table.OffsetTable`.
2. :mod:`~parts.lines.edges` fairs sheer and rabbet, each as a line of its own.
3. :mod:`~parts.lines.fairing` fairs all other figures against each other, in the coordinates of
   :mod:`~parts.lines.diagonals` with the batten of :mod:`~parts.lines.kriging`;
   :mod:`~parts.lines.odd_ones` finds the typing errors on the way, and leaves them out.
4. The fair function becomes a :class:`~parts.lines.surface.Surface`, that of the table's face
   of the planking; the other face lies a plank's thickness off it, square to the hull.
5. A :class:`~parts.lines.hull.Hull` answers for any place along the boat: sections, bevels,
   girths, the deck, strips laid flat (:mod:`~parts.lines.develop`);
   :mod:`~parts.lines.hydrostatics` checks it by Simpson's rule, :mod:`~parts.lines.views`
   draws it.

What it takes a hull to be: one smooth surface on each side, rising and widening from rabbet to
sheer. A hard chine, a knuckle in the stem or a plumb stem with a turned forefoot are not
modelled: give the stem a little rake, or end the table at its station.
"""

from parts.lines.fairing import OddOffset
from parts.lines.hull import Hull, hull_of, read_hull
from parts.lines.read_table import read_table
from parts.lines.table import Face, OffsetTable

__all__ = ["Face", "Hull", "OddOffset", "OffsetTable", "hull_of", "read_hull", "read_table"]
