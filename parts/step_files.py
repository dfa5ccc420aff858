"""Parts as solids on disk: one STEP file each, in mm, in the outline's frame."""

from __future__ import annotations

import os
import tempfile
from collections.abc import Mapping
from pathlib import Path

from nesting.errors import OutputError
from nesting.file_names import file_names
from parts.part import Part


def write_solids(
    parts: Mapping[str, Part], folder: Path, *, overwrite: bool = False
) -> tuple[Path, ...]:
    """Write each part's solid as ``NAME.step`` and return the files.

    Raises
    ------
    OutputError
        If the folder cannot be written, or a file is there and may not be overwritten;
        nothing is written then.
    """
    import cadquery as cq

    paths = {name: folder / file for name, file in file_names(parts, ending=".step").items()}
    there = [path for path in paths.values() if path.exists()]
    if there and not overwrite:
        raise OutputError(
            f"{there[0]} would be overwritten: choose another folder with --output, or allow it "
            "with --overwrite"
        )
    try:
        folder.mkdir(parents=True, exist_ok=True)
        with tempfile.TemporaryDirectory(prefix=".unfinished-", dir=folder) as fresh:
            for name, part in parts.items():
                cq.exporters.export(part.solid(), str(Path(fresh) / paths[name].name))
            for path in paths.values():
                os.replace(Path(fresh) / path.name, path)
    except OSError as error:
        raise OutputError(f"{folder} cannot be written: {error.strerror or error}") from error
    return tuple(paths.values())
