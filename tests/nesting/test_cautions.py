"""The cautions: one text, its sources, and every place where a reader must meet it."""

import re
from pathlib import Path

import pytest
from sheet_nests import NESTS, account_of, nest_of

from nesting import cautions, cli
from nesting.arguments import make_parser
from nesting.nest import CuttingPlan
from nesting.sheets import overview
from nesting.sheets.blocks import LETTER_MM
from nesting.sheets.drawing import Role, Text
from nesting.sheets.lettering import wrapped
from nesting.sheets.title import WIDTH_MM

ROOT = Path(__file__).parents[2]

MUST_SAY = {
    "a detector, and what it leaves": ("metal detector", "one fastener in twenty"),
    "lead": ("lead",),
    "bottom paint": ("copper", "tin", "arsenic", "mercury"),
    "how paint comes off": ("wet over a sheet", "fitted respirator", "P3", "P100"),
    "how it is cleaned up": ("HEPA vacuum", "Wipe up wet", "never with a broom"),
    "where it goes": ("hazardous-waste site",),
    "who stays away": ("no children near",),
    "what is never done": ("no dry sanding", "no burning"),
    "old compounds": ("bedding", "caulking", "sheathing", "asbestos"),
    "dust": ("Wood dust", "cancer"),
    "kickback": ("Kickback", "relief cut"),
    "structure": ("Structural timber", "licensed practice"),
    "rules": ("local rules come first",),
}


def told(text: str) -> str:
    """Return a text in one line, as it may be wrapped anywhere."""
    return " ".join(text.replace("\n> ", "\n").split())


def missing_from(text: str) -> list[str]:
    """Return what a full text does not tell."""
    return [c.about for c in cautions.CAUTIONS if c.full not in told(text)]


@pytest.mark.parametrize("words", MUST_SAY.values(), ids=MUST_SAY)
def test_full_text_names_each_danger_and_what_to_do(words):
    whole = " ".join([cautions.HEADING, *(f"{c.about}: {c.full}" for c in cautions.CAUTIONS)])
    for word in words:
        assert word.casefold() in whole.casefold()


def test_every_caution_has_sources_and_says_where_there_are_none():
    for caution in (*cautions.CAUTIONS, cautions.METAL_FUME):
        assert caution.sources
        for source in caution.sources:
            # Either somebody who says so, or that nobody does.
            assert re.search(r": [^:]*[A-Z]|own account|no source$|from memory", source), source


def test_nobody_is_told_to_sweep_up():
    for path in [ROOT / "README.md", *ROOT.glob("demo_projects/*/*")]:
        if path.suffix in (".md", ".yaml"):
            text = told(path.read_text(encoding="utf-8"))
            assert not re.search(r"\b(sweep|swept|brush)\s+(it\s+|them\s+)?up\b", text), path


@pytest.mark.parametrize("demo", sorted(p.name for p in ROOT.glob("demo_projects/*") if p.is_dir()))
def test_a_demo_that_speaks_of_old_paint_leads_to_the_cautions(demo):
    text = (ROOT / "demo_projects" / demo / "README.md").read_text(encoding="utf-8")
    if re.search(r"paint|lead\b|dust|metal detector|Detect", text):
        assert "(../../README.md#before-anything-is-cut)" in text


def test_readme_holds_the_text_word_for_word():
    text = (ROOT / "README.md").read_text(encoding="utf-8")
    assert missing_from(text) == []
    assert "## Before anything is cut" in text


def test_help_ends_with_the_text_in_brief():
    assert cautions.IN_BRIEF in make_parser().format_help()


SMALL = """\
version: 1
name: Small job
unit: in
stock:
  - {board: D-01, species: teak, thickness: 1 3/8, length: 8 ft, width: 5}
parts:
  - part: strake
    family: ceiling strake
    shape: {length: 6 ft, width: 3, thickness: 1, frame_spacing: 10}
    species: teak
"""


@pytest.fixture(scope="module")
def nested(tmp_path_factory):
    path = tmp_path_factory.mktemp("small") / "small.yaml"
    path.write_text(SMALL)
    folder = path.parent / "out"
    assert cli.main(["nest", str(path), "-o", str(folder), "--rounds", "0", "-q"]) == cli.ALL_PLACED
    return path, folder


def test_nest_prints_the_full_text(nested, tmp_path, capsys):
    path, _ = nested
    cli.main(["nest", str(path), "-o", str(tmp_path), "--rounds", "0"])
    assert missing_from(capsys.readouterr().out) == []


@pytest.mark.parametrize("command", [["plank", "--width", "6 in"], ["solids"]], ids=lambda c: c[0])
def test_other_commands_that_send_somebody_to_the_bench_print_it_too(command, nested, capsys):
    path, folder = nested
    assert cli.main([*command, str(path), "-o", str(folder)]) == 0
    assert missing_from(capsys.readouterr().out) == []


def _cautions(drawing) -> str:
    return " ".join(
        e.text for e in drawing.entities if isinstance(e, Text) and e.role is Role.CAUTION
    )


def test_overview_carries_the_full_text():
    nests = tuple(nest_of(name) for name in NESTS)
    accounts = [account_of(name) for name in NESTS]
    drawing = overview(CuttingPlan(nests), accounts, project_name="Lake skiff")
    assert missing_from(_cautions(drawing)) == []
    assert cautions.HEADING in _cautions(drawing)


def test_short_form_takes_four_lines_of_a_cut_sheets_corner_and_names_each_danger():
    inner = WIDTH_MM - 6.0
    assert sum(len(wrapped(text, LETTER_MM, inner)) for text in cautions.IN_SHORT) <= 4
    whole = " ".join(cautions.IN_SHORT)
    for word in (
        "Local rules", "metal", "lead", "mercury", "asbestos", "P3/P100", "dust", "kicks back",
        "licensed practice",
    ):  # fmt: skip
        assert word.casefold() in whole.casefold()
