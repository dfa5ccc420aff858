"""Parts as solids on disk: one STEP file each, in mm, in the outline's frame."""

from __future__ import annotations

import os
import tempfile
from collections.abc import Mapping
from pathlib import Path

from nesting.errors import OutputError
from nesting.file_names import file_names
from nesting.work import Step, Tell, untold
from parts.part import Part


def write_solids(
    parts: Mapping[str, Part],
    folder: Path,
    *,
    overwrite: bool = False,
    on_progress: Tell = untold,
) -> tuple[Path, ...]:
    """Write each part's solid as ``NAME.step`` and return the files.

    Parameters
    ----------
    on_progress
        Is told which part is being made, and how many are done.

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
            for number, (name, part) in enumerate(parts.items()):
                on_progress(Step(f"making the solid of {name}", number, len(parts)))
                cq.exporters.export(part.solid(), str(Path(fresh) / paths[name].name))
            for path in paths.values():
                os.replace(Path(fresh) / path.name, path)
    except OSError as error:
        raise OutputError(f"{folder} cannot be written: {error.strerror or error}") from error
    return tuple(paths.values())
