"""Make the README's pictures anew from the demos: ``python tests/bench/readme_pictures.py``.

The sheet is drawn by the package's own picture writer, the boat by its own renderer; the
terminal's summary is set as text; a pattern and the page are what a printer and a browser show
(pypdfium2, headless Chromium). A name after the command makes only that one: ``first_cut``,
``pattern``, ``page``, ``lines`` or ``boat``.
"""

import io
import sys
from pathlib import Path

from rich.console import Console

from nesting.accounts.account import account_for
from nesting.boat_outputs import boards_of, picture_of
from nesting.console import report
from nesting.engine.pack import pack
from nesting.engine.stop import MaxRounds
from nesting.project import read_project
from nesting.referee.check import require_sound
from nesting.sheets import Drawing, cut_sheet, save_picture
from nesting.sheets.drawing import Text
from nesting.sheets.pdf import pdf_content
from nesting.sheets.whole_file import write_whole
from nesting.shop.kinds import Paper

DEMOS = Path(__file__).parents[2] / "demo_projects"
PICTURES = DEMOS / "first_cut" / "pictures"


def main() -> None:
    """Draw sheet, summary, pattern and page of the small demo, her lines, the full demo's boat."""
    PICTURES.mkdir(exist_ok=True)
    for name, make in (
        ("first_cut", _first_cut), ("pattern", _pattern), ("page", _page), ("lines", _lines),
        ("boat", _boat),
    ):  # fmt: skip
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
    figure = Figure(figsize=(8.6, 0.165 * text.count("\n") + 0.3), facecolor="white")
    figure.text(0.02, 0.98, text, family="monospace", size=9, va="top")
    figure.savefig(PICTURES / "summary.png", dpi=100, metadata={"Software": None})
    for name in ("cut_sheet.png", "summary.png"):
        _few_colours(PICTURES / name)


def _few_colours(path: Path) -> None:
    """Write a picture anew with a palette: a drawing has few colours, and takes a third so."""
    from PIL import Image

    with Image.open(path) as picture:
        paletted = picture.convert("RGB").quantize(64, dither=Image.Dither.NONE)
    paletted.save(path, optimize=True)


def _pattern() -> None:
    """Draw the first page of patterns that is joined to others on both sides, as it is printed."""
    import pypdfium2

    from nesting.shop.patterns import Subject, page_drawings, pattern_set

    project = read_project(DEMOS / "first_cut" / "project.yaml")
    subject = Subject(project, project.needs, Paper(project.paper))
    pages = page_drawings(pattern_set(subject))
    page = next(
        page for page in pages if any(said.startswith("Sheet 1, page B") for said in _said(page))
    )
    pdf = pypdfium2.PdfDocument(pdf_content([page]))
    pdf[0].render(scale=1.0, grayscale=True).to_pil().save(PICTURES / "pattern.png", optimize=True)


def _said(page: Drawing) -> list[str]:
    return [entity.text for entity in page.entities if isinstance(entity, Text)]


def _page() -> None:
    """Take a picture of the page as it is opened."""
    import shutil
    import tempfile

    from playwright.sync_api import sync_playwright

    from nesting.shop.folio import Folio
    from nesting.shop.page import page

    project, plan = _packed("first_cut", 100)
    sheets = {nest.board.name: "" for nest in plan.nests}
    text = page(Folio(project, plan, account_for(plan, project.rules), sheets))
    with tempfile.TemporaryDirectory() as folder, sync_playwright() as playwright:
        path = Path(folder) / "page.html"
        path.write_text(text, encoding="utf-8")
        found = shutil.which("chromium") or shutil.which("chromium-browser")
        browser = playwright.chromium.launch(executable_path=found, args=["--no-sandbox"])
        tab = browser.new_page(viewport={"width": 1200, "height": 760}, device_scale_factor=0.75)
        tab.goto(path.as_uri())
        tab.wait_for_selector("#rack .piece")
        tab.screenshot(path=PICTURES / "page.png")
        browser.close()


def _lines() -> None:
    from nesting.loft.floating_words import Water
    from nesting.loft.outputs import Lofted, lines_drawing
    from parts.lines import read_hull
    from parts.lines.faired_figures import faired_figures

    hull = read_hull(DEMOS / "lines" / "withy_offsets.csv")
    folder = DEMOS / "lines" / "pictures"
    folder.mkdir(exist_ok=True)
    drawing = lines_drawing(Lofted(hull, faired_figures(hull), Water("salt", 1025.0)), Paper.A3)
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
