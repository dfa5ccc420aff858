"""A figure typed so wrong that the rabbet turns back on itself in profile.

No hull can be bounded by such a line, so that no other figure can speak before it is left out.
"""

from __future__ import annotations

from dataclasses import replace

from parts.lines.faired_edges import number_of, profile_of
from parts.lines.reading import Reading


def running_aft(reading: Reading) -> Reading:
    """Return a table without the height of the rabbet that makes it turn back, if one does.

    Where several might, without that whose line is then the least surprising.
    """
    profile = profile_of(reading)
    number = number_of(reading.table, profile.line)
    if profile.curve.runs_aft or number is None:
        return reading
    cells = [(number, int(station)) for station in profile.stations if station >= 0]
    tried = [replace(reading, put={cell: None}) for cell in cells]
    profiles = [(profile_of(without), without) for without in tried]
    running = [found for found in profiles if found[0].curve.runs_aft]
    return min(running, key=lambda found: found[0].misfit)[1] if running else reading
