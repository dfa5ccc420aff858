"""Names and notes with letters that no face of printed sheets has: there they stand as codes."""

from __future__ import annotations

from collections.abc import Iterator

from nesting.errors import Finding
from nesting.faces import as_lettered, lacking
from nesting.project import Project
from nesting.project.letters import texts_on_sheets
from nesting.unseen import quoted


def unlettered(project: Project) -> Iterator[Finding]:
    """Yield each text of a board or part that paper cannot show as it is written."""
    for entry in (*project.board_entries.values(), *project.part_entries.values()):
        for loc, text in texts_on_sheets(entry.data):
            if letters := lacking(text):
                yield entry.finding(
                    loc,
                    f"{quoted(text)} holds {letters[0]} (U+{ord(letters[0]):04X}), which printed "
                    f"paper has no lettering for: there it reads {as_lettered(text)}; another name "
                    "is found faster at the bench",
                )
