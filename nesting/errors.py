"""Every error this package raises on purpose, drawn as a tree.

::

    SalvageNestError
    ├── LengthError(ValueError)        text that is no length, angle or slope
    ├── ShapeError(ValueError)         a board, keep-out or outline that cannot be
    ├── PartError(ValueError)          parameters that make no part
    │   └── OwnCodeError(PartError)    a part family of one's own that cannot be used
    ├── BookError(ValueError)          a stock book, or a step in it, that cannot be
    ├── JobError(ValueError)           what a script asks for that cannot be done
    ├── DrawingError(ValueError)       a DXF that cannot be read as asked
    ├── PhotographError(ValueError)    a photograph out of which no board can be measured
    ├── ProjectFileError(ValueError)   a project or stock file, with every finding
    ├── OptionError(ValueError)        a value on the command line that cannot be used
    ├── ClusterError(OSError)          a cluster to search on that cannot be reached
    ├── OutputError(OSError)           a folder or file that cannot be written
    │   └── InUseError(OutputError)    a folder that another run is writing into
    └── RefereeError(RuntimeError)     a cutting plan that broke a rule: never written

A part that fits no board is not an error: it is listed as unplaced, with the reason.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass


class SalvageNestError(Exception):
    """Root of the package's own errors: catch this one to catch them all."""


class LengthError(SalvageNestError, ValueError):
    """Text or a number that cannot be read as a length, an angle or a slope."""


class ShapeError(SalvageNestError, ValueError):
    """A board, keep-out or outline whose geometry cannot be: self-crossing, off the board."""


class PartError(SalvageNestError, ValueError):
    """Parameters that are each allowed but together make no part."""


class OwnCodeError(PartError):
    """A part family of one's own that cannot be loaded, or fails; names file and line.

    ``file`` and ``line`` say where in that code, 0 where no line is known.
    """

    def __init__(self, message: str, file: str = "", line: int = 0) -> None:
        self.file, self.line = file, line
        super().__init__(message)


class JobError(SalvageNestError, ValueError):
    """What a script asks for that cannot be done: names given twice, no boards, rules that lack."""


class BookError(SalvageNestError, ValueError):
    """A stock book that cannot be used, or a step that it cannot take; nothing was changed."""


class DrawingError(SalvageNestError, ValueError):
    """A drawing that holds no usable outline, or cannot be read."""


class PhotographError(SalvageNestError, ValueError):
    """A photograph out of which no board can be measured: says what is amiss and what to do."""


class OptionError(SalvageNestError, ValueError):
    """A value given on the command line that cannot be used; names the option."""


class ClusterError(SalvageNestError, OSError):
    """A cluster to search on that cannot be reached or has no workers."""


class OutputError(SalvageNestError, OSError):
    """A folder or file that cannot be written, or that would be overwritten unasked."""


class InUseError(OutputError):
    """A folder that another run is writing into."""


@dataclass(frozen=True, order=True)
class Finding:
    """One thing wrong in a project or stock file.

    ``line`` and ``column`` count from 1; ``message`` says what was given, what is allowed
    and what to do.
    """

    file: str
    line: int
    column: int
    message: str

    def __str__(self) -> str:
        return f"{self.file}:{self.line}:{self.column}: {self.message}"


class ProjectFileError(SalvageNestError, ValueError):
    """A project that cannot be used; carries every finding, sorted by place.

    ``is_all`` is False where there were so many that reading ended.
    """

    def __init__(self, findings: Sequence[Finding], *, is_all: bool = True) -> None:
        self.findings = tuple(sorted(findings))
        self.is_all = is_all
        super().__init__("\n".join(str(finding) for finding in self.findings))


class RefereeError(SalvageNestError, RuntimeError):
    """A cutting plan that breaks a rule of the trade, so nothing may be written from it."""

    def __init__(self, faults: Sequence[str]) -> None:
        self.faults = tuple(faults)
        super().__init__("\n".join(self.faults))
