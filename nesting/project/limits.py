"""How much one project may hold: more is a slip of the pen, or takes longer than anybody waits.

A yard that breaks up one boat has some hundreds of boards and makes some hundreds of pieces of
them; the whole program is tried with 3,000 boards and 5,000 pieces.
"""

from __future__ import annotations

from dataclasses import dataclass, field

from nesting.errors import ProjectFileError
from nesting.project.entry import Entry

MOST = {
    "boards": 10_000,
    "keep-outs": 50_000,
    "lines of parts": 5_000,
    "pieces": 20_000,
    "wishes": 1_000,
}


@dataclass
class Tally:
    """What has been read so far, of each kind that is limited."""

    counts: dict[str, int] = field(default_factory=dict)

    def add(self, what: str, count: int, entry: Entry, *key: str) -> None:
        """Count some more of a kind; past the limit reading ends, at the entry that went past it.

        Raises
        ------
        ProjectFileError
            With everything found so far.
        """
        total = self.counts[what] = self.counts.get(what, 0) + count
        if total > MOST[what]:
            entry.note(
                key,
                f"with this the project has {total:,} {what}, at most {MOST[what]:,} are read: "
                "is a count right? Else make several projects of it",
            )
            raise ProjectFileError(entry.findings.found)
