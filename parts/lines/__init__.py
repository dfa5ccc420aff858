"""The lines of a hull: from a builder's table of offsets to every shape that parts need.

How it works, from the table to the part:

1. :mod:`~parts.lines.read_table` reads a YAML or CSV file (:mod:`~parts.lines.table_cells` says
   what is wrong in it, with file and line) into an :class:`~parts.lines.table.OffsetTable`.
2. :mod:`~parts.lines.faired_edges` fairs rabbet, chines and sheer, each as a line of its own
   (:mod:`~parts.lines.rows`), turning where they turn (:mod:`~parts.lines.sharp_turns`), a keel
   straight where its figures are (:mod:`~parts.lines.straight_runs`), what is swept into it
   meeting it without a turn (:mod:`~parts.lines.swept_lines`) and no line turning back where its
   points do not (:mod:`~parts.lines.turning_one_way`); between them lie
   :mod:`~parts.lines.panels`.
3. :mod:`~parts.lines.fits` fairs all other figures against each other, as one function in the
   coordinates of :mod:`~parts.lines.laying_off` with the batten of :mod:`~parts.lines.kriging`:
   how stiff it is and how much noise the figures have is found from them. Figures are weighed,
   by how finely the table was read (:mod:`~parts.lines.tolerance`), not nailed.
4. :mod:`~parts.lines.judging` finds the typing errors, and leaves them out unless told to keep
   them; :mod:`~parts.lines.unnamed_chines` refuses a hull that is broken without saying where.
   Edges of a noisy table go to where the surface beside them runs out
   (:mod:`~parts.lines.edges_by_surface`); where one is left open between two points is told
   (:mod:`~parts.lines.unsure_edges`), and where a section is between two figures
   (:mod:`~parts.lines.open_sections`).
5. The fair functions become a :class:`~parts.lines.surface.Surface`
   (:mod:`~parts.lines.drawn`), sharp along its chines (:mod:`~parts.lines.patches`): that of the
   table's face of the planking; the other face lies a plank's thickness off it, square to the hull.
6. A :class:`~parts.lines.hull.Hull` answers for any place along the boat: sections, bevels,
   girths, the deck, strips laid flat (:mod:`~parts.lines.develop`);
   :mod:`~parts.lines.views` draws it.
7. The loft's part: :mod:`~parts.lines.faired_figures` holds the table against the fair hull,
   :mod:`~parts.lines.battens` says how its long lines bend, :mod:`~parts.lines.mould_book` has all
   figures of stations and frames, :mod:`~parts.lines.hydrostatics` how she floats, by sums over a
   closed body (:mod:`~parts.lines.planked_body`, :mod:`~parts.lines.afloat`), also heeled and
   trimmed (:mod:`~parts.lines.heeled`, :mod:`~parts.lines.trimmed`).

What it takes a hull to be: on each side panels that are smooth, met at chines that the table
names, each section rising and widening from rabbet to sheer, or drawing in a little at the top.
Not modelled, and refused: a chine that fades out within the hull, a stem that turns back aft, a
bottom hollow along the centreline (:mod:`~parts.lines.hollow_bottoms`), a transom that is bowed, or
does not cut the hull (:mod:`~parts.lines.transom_place`). A knuckle between bent panels that begins
or ends within the hull is told by how quickly a section turns there and not beside it
(:mod:`~parts.lines.quick_turns`); one of less than 12 degrees, or in a table with millimetres of
noise, is not told from a bilge, nor one that hollows the side from a garboard.
"""

from parts.lines.fairing import OddOffset
from parts.lines.hull import Hull, hull_of, read_hull
from parts.lines.read_table import read_table
from parts.lines.table import Face, OffsetTable

__all__ = ["Face", "Hull", "OddOffset", "OffsetTable", "hull_of", "read_hull", "read_table"]
