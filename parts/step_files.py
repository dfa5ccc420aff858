"""Parts as solids on disk: one STEP file each, in mm, in the outline's frame."""

from __future__ import annotations

from collections.abc import Mapping
from pathlib import Path

from nesting.errors import OutputError
from nesting.folders.file_names import file_names
from nesting.folders.whole_folder import replaced_whole, require_free
from nesting.work import Step, Tell, untold
from parts.own_code import told_of
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
    require_free(paths.values(), overwrite=overwrite)
    with replaced_whole(folder) as fresh:
        for number, (name, part) in enumerate(parts.items()):
            on_progress(Step(f"making the solid of {name}", number, len(parts)))
            path = fresh / paths[name].name
            with told_of(part, name):
                solid = part.solid()
            cq.exporters.export(solid, str(path))
            require_whole(path)
    return tuple(paths.values())


def require_whole(path: Path) -> None:
    """Refuse a STEP file that was not written to its end: its writer does not say so.

    Raises
    ------
    OutputError
        If it does not end as ISO 10303-21 has a file end (from memory).
    """
    content = path.read_bytes()[-100:] if path.is_file() else b""
    if not content.rstrip().endswith(b"END-ISO-10303-21;"):
        raise OutputError(
            f"{path} could not be written whole: see whether there is room on the disk"
        )
