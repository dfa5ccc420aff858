"""Make the README's pictures anew from the demos: ``python tests/bench/readme_pictures.py``.

The sheet is drawn by the package's own picture writer, the boat by its own renderer; the
terminal's summary is set as text. ``boat`` or ``lines`` after the command makes only that one.
"""

import io
import sys
from pathlib import Path

from rich.console import Console

from nesting.account import account_for
from nesting.boat_outputs import boards_of, picture_of
from nesting.check import require_sound
from nesting.console import report
from nesting.engine.pack import pack
from nesting.engine.stop import MaxRounds
from nesting.project import read_project
from nesting.sheets import cut_sheet, save_picture
from nesting.sheets.whole_file import write_whole

DEMOS = Path(__file__).parents[2] / "demo_projects"
PICTURES = DEMOS / "first_cut" / "pictures"


def main() -> None:
    """Draw the small demo's fullest board and its summary, her lines, and the full demo's boat."""
    PICTURES.mkdir(exist_ok=True)
    for name, make in (("first_cut", _first_cut), ("lines", _lines), ("boat", _boat)):
        if sys.argv[1:] in ([], [name]):
            make()


def _packed(demo: str, rounds: int) -> tuple:
    project = read_project(DEMOS / demo / "project.yaml")
    plan = pack(project.needs, project.stock, project.rules, stop=MaxRounds(rounds))
    require_sound(plan, project.needs, project.rules)
    return project, plan


def _first_cut() -> None:
    from matplotlib.figure import Figure

    project, plan = _packed("first_cut", 100)
    account = account_for(plan, project.rules)
    fullest = max(range(len(plan.nests)), key=lambda i: len(plan.nests[i].placements))
    sheet = cut_sheet(
        plan.nests[fullest],
        account.boards[fullest],
        project.rules,
        project_name=project.name,
        unit=project.unit,
    )
    save_picture(sheet, PICTURES / "cut_sheet.png", dots_per_inch=90, overwrite=True)
    console = Console(width=84, record=True, file=io.StringIO())
    console.print(report(plan, account, project.unit))
    text = console.export_text()
    figure = Figure(figsize=(8.6, 0.162 * text.count("\n") + 0.2), facecolor="white")
    figure.text(0.02, 0.98, text, family="monospace", size=9, va="top")
    figure.savefig(PICTURES / "summary.png", dpi=100, metadata={"Software": None})


def _lines() -> None:
    from nesting.floating_words import Water
    from nesting.loft_outputs import Lofted, lines_drawing
    from parts.lines import read_hull
    from parts.lines.faired_figures import faired_figures

    hull = read_hull(DEMOS / "lines" / "withy_offsets.csv")
    folder = DEMOS / "lines" / "pictures"
    folder.mkdir(exist_ok=True)
    drawing = lines_drawing(Lofted(hull, faired_figures(hull), Water("salt", 1025.0)))
    save_picture(drawing, folder / "lines.png", dots_per_inch=90, overwrite=True)


def _boat() -> None:
    from parts.model.piece import pieces_in_boat

    project, plan = _packed("tender_to_sloop", 10)
    assert project.boat is not None, "the full demo is fitted to her lines"
    pieces = pieces_in_boat(project.parts, boards_of(plan))
    picture = picture_of(pieces, project.boat.hull, project.name)
    write_whole(DEMOS / "tender_to_sloop" / "pictures" / "boat.png", picture, overwrite=True)


if __name__ == "__main__":
    main()
