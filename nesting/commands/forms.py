"""``forms``: paper for recording boards, and for holding what was recorded against the pile."""

from __future__ import annotations

import argparse

from nesting.commands.shared import ALL_PLACED, by_book_now, folder_in, folder_of, read, say

FOLDER = "forms"
FILES = ("blank.pdf", "labels.pdf", "contact.pdf")


def forms(given: argparse.Namespace) -> int:
    """Write blank form, labels and contact sheet of a project's boards."""
    from nesting.folders.whole_folder import replaced_whole, require_free
    from nesting.sheets.pdf import write_pdf
    from nesting.shop.board_forms import blank_form, labels
    from nesting.shop.contact_sheet import contact_sheets
    from nesting.shop.kinds import Paper

    project = by_book_now(given, read(given))
    folder = folder_in(folder_of(given, project), FOLDER)
    require_free([folder / name for name in FILES], overwrite=given.overwrite)
    unit = project.unit
    paper, boards = Paper(project.paper), project.stock
    made = (
        [blank_form(unit, paper)], labels(boards, unit, paper),
        contact_sheets(boards, unit, paper, project_name=project.name),
    )  # fmt: skip
    with replaced_whole(folder) as fresh:
        for name, pages in zip(FILES, made, strict=True):
            write_pdf(pages, fresh / name)
    say(f"wrote {', '.join(FILES)} into {folder}")
    return ALL_PLACED
