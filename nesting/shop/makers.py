"""What makes each output: modules of their own, loaded when their output is asked for.

A maker is a function from a folio to the names and contents of files.
"""

from __future__ import annotations

import hashlib
from collections.abc import Callable, Iterable, Mapping, Sequence
from dataclasses import dataclass, replace
from importlib import import_module
from pathlib import Path

from nesting.errors import OutputError
from nesting.plain_file import LARGEST_BYTES, plain_bytes
from nesting.sheets.whole_file import write_whole
from nesting.shop.folio import Folio
from nesting.shop.kinds import Output, is_made

Maker = Callable[[Folio], Iterable[tuple[str, bytes]]]

MAKERS: Mapping[Output, str] = {
    Output.PRINT: "nesting.shop.print_sheets",
    Output.PAGE: "nesting.shop.page",
    Output.LISTS: "nesting.shop.shop_lists",
    Output.PATTERNS: "nesting.shop.patterns",
    Output.MACHINE: "nesting.shop.machine",
    Output.CHANGES: "nesting.shop.changes_sheet",
}
"""Module of each maker; its function is called ``made``."""


@dataclass(frozen=True)
class Made:
    """The names of an output's files, and what is to be said of them."""

    names: tuple[str, ...]
    remarks: tuple[str, ...] = ()


@dataclass(frozen=True)
class MadeTask:
    """One output to be made and written: work for one process."""

    output: Output
    folio: Folio
    folder: Path

    def done(self) -> Made:
        """Write its files and return their names."""
        names, remarks = list[str](), list[str]()
        folio = replace(self.folio, on_remark=remarks.append)
        for name, content in maker_of(self.output)(folio):
            assert is_made(name), f"{name} is no file of an output: name it in kinds.FILES"
            # A process that was lost over this output may have written it already.
            write_whole(self.folder / name, content, overwrite=True)
            names.append(name)
        return Made(tuple(names), tuple(remarks))


def maker_of(output: Output) -> Maker:
    """Return the function that makes an output."""
    made: Maker = import_module(MAKERS[output]).made
    return made


def digests(folder: Path, names: Sequence[str]) -> dict[str, str]:
    """Return the SHA-256 of files by their names, for a summary to hold.

    Raises
    ------
    OutputError
        If one cannot be read.
    """
    try:
        return {
            name: hashlib.sha256(plain_bytes(folder / name, LARGEST_BYTES)).hexdigest()
            for name in sorted(names)
        }
    except OSError as error:
        raise OutputError(f"{error.filename} cannot be read: {error.strerror or error}") from error


def made_files(folder: Path, outputs: Sequence[Output] = tuple(Output)) -> list[str]:
    """Return the names in a folder that some outputs give their files."""
    return sorted(path.name for path in folder.iterdir() if is_made(path.name, outputs))
