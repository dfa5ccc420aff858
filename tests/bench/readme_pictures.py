"""Make the README's pictures anew from the first demo: ``python tests/bench/readme_pictures.py``.

The sheet is drawn by the package's own picture writer; the terminal's summary is set as text.
"""

import io
from pathlib import Path

from rich.console import Console

from nesting.account import account_for
from nesting.check import require_sound
from nesting.console import report
from nesting.engine.pack import pack
from nesting.engine.stop import MaxRounds
from nesting.project import read_project
from nesting.sheets import cut_sheet, save_picture

DEMO = Path(__file__).parents[2] / "demo_projects" / "first_cut"


def main() -> None:
    """Pack the demo and draw its fullest board and its summary."""
    from matplotlib.figure import Figure

    project = read_project(DEMO / "project.yaml")
    plan = pack(project.needs, project.stock, project.rules, stop=MaxRounds(100))
    require_sound(plan, project.needs, project.rules)
    account = account_for(plan, project.rules)
    folder = DEMO / "pictures"
    folder.mkdir(exist_ok=True)
    fullest = max(range(len(plan.nests)), key=lambda i: len(plan.nests[i].placements))
    sheet = cut_sheet(
        plan.nests[fullest],
        account.boards[fullest],
        project.rules,
        project_name=project.name,
        unit=project.unit,
    )
    save_picture(sheet, folder / "cut_sheet.png", dots_per_inch=90, overwrite=True)
    console = Console(width=84, record=True, file=io.StringIO())
    console.print(report(plan, account, project.unit))
    text = console.export_text()
    figure = Figure(figsize=(8.6, 0.162 * text.count("\n") + 0.2), facecolor="white")
    figure.text(0.02, 0.98, text, family="monospace", size=9, va="top")
    figure.savefig(folder / "summary.png", dpi=100, metadata={"Software": None})


if __name__ == "__main__":
    main()
