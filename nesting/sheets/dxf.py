"""Drawings as DXF: R2010 for drawing programs, R12 for old machines."""

from __future__ import annotations

from pathlib import Path

from nesting.sheets.drawing import Drawing
from nesting.sheets.dxf_terms import Version
from nesting.sheets.group_codes import content_of
from nesting.sheets.whole_file import write_whole


def write_dxf(
    drawing: Drawing, path: Path | str, *, version: Version = "R2010", overwrite: bool = False
) -> Path:
    """Write a drawing as DXF and return the path; a drawing gives the same bytes always.

    Parameters
    ----------
    version
        ``R2010``, or ``R12`` for machines that read nothing newer.

    Raises
    ------
    OutputError
        If the file is there and may not be overwritten, or the folder cannot be written.
    """
    return write_whole(Path(path), dxf_content(drawing, version), overwrite=overwrite)


def dxf_content(drawing: Drawing, version: Version) -> bytes:
    """Return what a file holds of a drawing."""
    return content_of(drawing, version)
