"""The loft command: what it says of a table, what it writes, and what it refuses."""

import csv
import re
from pathlib import Path

import pytest
from pypdf import PdfReader

from nesting import cli
from nesting.units import Unit, parse_length
from parts.lines import read_hull

WITHY = Path(__file__).parents[3] / "demo_projects" / "lines" / "withy_offsets.csv"
WRONG = WITHY.read_text().replace("3-3-3,   3-5-3,  3-5-3+,", "3-5-3,   3-5-3,  3-5-3+,", 1)

FILES = {
    "lines.dxf", "lines.svg", "lines.pdf", "faired.csv", "battens.pdf", "hydrostatics.csv",
    "book.csv", "book.pdf",
}  # fmt: skip

PROJECT = f"""\
version: 1
name: Two beams
unit: in
boat:
  lines: {WITHY}
  frames: {{first: 16, spacing: 10, count: 27, siding: 1 1/4, moulding: 1 3/4}}
  keel: {{siding: 5}}
stock:
  - {{board: D-07, species: white oak, thickness: 2, length: 9 ft, width: 9}}
parts:
  - {{part: cleat, family: plank, species: white oak, shape: {{length: 9, width: 1, thickness: 1}}}}
"""


@pytest.fixture(scope="module")
def wrong(tmp_path_factory):
    path = tmp_path_factory.mktemp("loft") / "wrong.csv"
    path.write_text(WRONG)
    return path


@pytest.fixture(scope="module")
def written(wrong):
    """Return the folder of one run and what it printed."""
    import contextlib
    import io

    out = io.StringIO()
    options = ["--draught", "1-6-0 to 2-0-0 by 0-6-0", "--heel", "0 to 15 by 15", "-q"]
    options += ["--trim", "-0-2-0 to 0-2-0 by 0-2-0"]
    with contextlib.redirect_stdout(out):
        code = cli.main(["loft", str(wrong), "-o", str(wrong.parent / "out"), *options])
    assert code == cli.ALL_PLACED
    return wrong.parent / "out" / "loft", " ".join(out.getvalue().split())


def test_it_names_the_odd_figure_with_its_place_and_what_it_should_read(wrong, written):
    _, out = written
    line = next(n for n, text in enumerate(WRONG.splitlines(), 1) if "3-5-3,   3-5-3" in text)
    assert "1 figure is odd:" in out
    assert f"odd: {wrong}:{line}:8: station 6, waterline 3-0-0: 3-5-3 is" in out
    assert "it probably should read 3-3-3" in out
    assert "Largest correction 0." in out
    assert "is a proposal" in out


def test_a_line_wrong_as_a_whole_is_said_once(tmp_path, capsys):
    path = tmp_path / "label.csv"
    text = WITHY.read_text()
    path.write_text(re.sub(r"^waterline 3-0-0", "waterline 3-4-0", text, count=1, flags=re.M))
    assert path.read_text() != text
    options = ["-o", str(tmp_path / "o"), "-q", "--draught", "2-0-0"]
    assert cli.main(["loft", str(path), *options]) == cli.ALL_PLACED
    out = " ".join(capsys.readouterr().out.split())
    line = next(n for n, row in enumerate(text.splitlines(), 1) if row.startswith("waterline 3-0"))
    assert "Something is wrong as a whole: odd:" in out
    assert f"odd: {path}:{line}:1: waterline 3-4-0: its figures are those of a waterline" in out
    assert "the label probably should read 3-0-0" in out
    assert out.count("odd:") == 1


def test_notes_of_a_table_in_feet_are_told_in_feet_and_inches(tmp_path, capsys):
    """They were told in millimetres."""
    path = tmp_path / "foot.csv"
    path.write_text(WITHY.read_text().replace("23-10-0 2-1-5+", "23-10-0 2-5-5+"))
    options = ["-o", str(tmp_path / "o"), "-q", "--draught", "2-0-0"]
    assert cli.main(["loft", str(path), *options]) == cli.ALL_PLACED
    out = " ".join(capsys.readouterr().out.split())
    assert re.search(r"note: \S+:14:\d+: transom: its foot lies \d/?\S* in above the rabbet", out)
    assert " mm" not in out


def test_it_writes_everything_and_the_fair_table_reads_back(written):
    folder, _ = written
    assert {path.name for path in folder.iterdir()} == FILES
    again = read_hull(folder / "faired.csv")
    assert again.odd == ()
    for name in ("lines.pdf", "battens.pdf", "book.pdf"):
        assert (folder / name).read_bytes()[:5] == b"%PDF-"


def test_hydrostatics_are_of_the_draughts_asked_for_in_the_tables_notation(written):
    folder, out = written
    rows = list(csv.reader((folder / "hydrostatics.csv").read_text().splitlines()))
    found = {row[0]: row[1:] for row in rows if row}
    assert found["draught to the lowest rabbet"] == ["1-6-0", "2-0-0"]
    assert found["displacement, salt water"][0].endswith(" lb")
    assert float(found["block coefficient"][0]) == pytest.approx(0.32, abs=0.03)
    assert found["0"][0] == "0-0-0"
    assert "licensed practice" in out
    assert "licensed practice" in rows[0][0]


def test_trims_tell_draughts_at_both_ends_and_where_her_weight_must_lie(written):
    folder, out = written
    rows = list(csv.reader((folder / "hydrostatics.csv").read_text().splitlines()))
    first = next(n for n, row in enumerate(rows) if row and row[0].startswith("Trimmed"))
    assert rows[first][0] == f"Trimmed, as much water as level at {rows[2][1]}"
    table = [dict(zip(rows[first + 1], row, strict=True)) for row in rows[first + 2 : first + 5]]
    assert [row["trim"] for row in table] == ["-0-2-0", "0-0-0", "0-2-0"]
    assert table[1]["forward"] == table[1]["aft"] == "1-6-0"
    fore, aft = (parse_length(table[2][end], Unit.FOOT) for end in ("forward", "aft"))
    assert aft - fore == pytest.approx(50.8, abs=1.6)
    places = [parse_length(row["buoyancy"], Unit.FOOT) for row in table]
    assert places == sorted(places)
    assert "weight must lie plumb over the centre of buoyancy" in out


def test_heel_and_trim_given_together_are_told_together(written):
    folder, out = written
    rows = list(csv.reader((folder / "hydrostatics.csv").read_text().splitlines()))
    first = next(n for n, row in enumerate(rows) if row and row[0].startswith("Heeled and"))
    assert rows[first][0].endswith(f"upright and level at {rows[2][1]}")
    table = [dict(zip(rows[first + 1], row, strict=True)) for row in rows[first + 2 : first + 4]]
    assert [(row["heel"], row["trim"]) for row in table] == [("15", "-0-2-0"), ("15", "0-2-0")]
    for row, sign in zip(table, (-1, 1), strict=True):
        fore, aft = (parse_length(row[end], Unit.FOOT) for end in ("forward", "aft"))
        assert sign * (aft - fore) == pytest.approx(50.8, abs=1.6)
    assert "a level held square across her shows the heel" in out


def test_nothing_is_overwritten_unasked(wrong, written, capsys):
    before = (written[0] / "lines.dxf").read_bytes()
    assert cli.main(["loft", str(wrong), "-o", str(wrong.parent / "out")]) == cli.NO_FILE
    assert "--overwrite" in capsys.readouterr().err
    assert (written[0] / "lines.dxf").read_bytes() == before


@pytest.mark.parametrize(
    ("options", "code", "message"),
    [
        (["--draught", "6-0-0"], 2, r"--draught 6-0-0: .* above the sheer"),
        (["--draught", "deep"], 2, "--draught: 'deep' is no length"),
        (["--draught", "2-0-0 to 1-0-0 by 0-1-0"], 2, "is no range: write the least"),
        (["--draught", "2-0-0", "--heel", "80"], 2, "--heel 80: .* out of range: 0 to 60 degrees"),
        (["--draught", "2-0-0", "--heel", "much"], 2, "--heel 'much' is no heel"),
        (["--draught", "2-0-0", "--heel", "0 to nan by 5"], 2, "is no heel: write degrees"),
        (["--draught", "2-0-0", "--trim", "9-0-0"], 2, "--trim 9-0-0: .* at most .* a fifth"),
        (["--draught", "2-0-0", "--trim", "aft"], 2, "--trim: 'aft' is no length"),
    ],
    ids=["too deep", "no length", "no range", "too steep", "no heel", "nan", "too much", "no trim"],
)
def test_what_cannot_be_is_refused_and_nothing_written(
    wrong, tmp_path, capsys, options, code, message
):

    assert cli.main(["loft", str(wrong), "-o", str(tmp_path / "o"), *options]) == code
    assert re.search(message, " ".join(capsys.readouterr().err.split()))
    assert not (tmp_path / "o" / "loft" / "lines.dxf").exists()


def test_table_or_project_must_be_given_and_not_both(wrong, capsys):
    assert cli.main(["loft"]) == cli.USAGE
    assert "neither is given" in capsys.readouterr().err
    assert cli.main(["loft", str(wrong), "--project", "p.yaml"]) == cli.USAGE
    assert "both are given" in capsys.readouterr().err


def test_table_that_is_not_there_or_has_no_stations_is_told(tmp_path, capsys):
    assert cli.main(["loft", str(tmp_path / "none.csv")]) in (cli.PROJECT_WRONG, cli.NO_FILE)
    assert "none.csv" in capsys.readouterr().err
    path = tmp_path / "bare.csv"
    path.write_text("name, Bare\nunit, ft\nheights\nsheer, 4-0-0, 4-0-0\n")
    assert cli.main(["loft", str(path)]) == cli.PROJECT_WRONG
    assert "station: missing" in capsys.readouterr().err


def test_project_gives_the_frames_to_the_book(tmp_path, capsys):
    path = tmp_path / "two.yaml"
    path.write_text(PROJECT)
    options = ["--draught", "2-0-0", "-o", str(tmp_path / "o"), "-q"]
    assert cli.main(["loft", "--project", str(path), *options]) == cli.ALL_PLACED
    text = (tmp_path / "o" / "loft" / "book.csv").read_text()
    assert "the mould loft's book, stations" in text
    assert "the mould loft's book, frames" in text
    rows = list(csv.reader(text.splitlines()))
    frames = rows[next(n for n, row in enumerate(rows) if "frames" in "".join(row[:1])) :]
    assert frames[3][1:4] == ["1", "2", "3"]
    assert frames[4][:3] == ["from forward", "1-4-0", "2-2-0"]
    assert "inside of planking" in frames[1][0]
    plain = path.with_name("plain.yaml")
    start, end = PROJECT.index("boat:"), PROJECT.index("stock:")
    plain.write_text(PROJECT[:start] + PROJECT[end:])
    assert cli.main(["loft", "--project", str(plain)]) == cli.USAGE
    assert "names no boat" in capsys.readouterr().err


@pytest.mark.parametrize(("option", "wide"), [((), 11.0), (("--paper", "A3"), 420 / 25.4)])
def test_book_and_battens_are_on_the_projects_paper_or_the_one_asked_for(tmp_path, option, wide):
    path = tmp_path / "p.yaml"
    path.write_text(PROJECT + "outputs: {paper: letter}\n")
    said = ["-o", str(tmp_path / "o"), "--draught", "1-6-0", "-q", *option]
    assert cli.main(["loft", "--project", str(path), *said]) == cli.ALL_PLACED
    for name in ("book.pdf", "battens.pdf"):
        page = PdfReader(tmp_path / "o" / "loft" / name).pages[0]
        assert float(page.mediabox.width) / 72 == pytest.approx(wide, abs=0.01)


def test_hull_passes_odd_figures_as_they_stand_if_asked_to(wrong, tmp_path, capsys):
    options = ["--keep-odd", "--draught", "2-0-0", "-o", str(tmp_path / "o"), "-q"]
    assert cli.main(["loft", str(wrong), *options]) == cli.ALL_PLACED
    assert "1 figure is odd:" in capsys.readouterr().out
    rows = csv.reader((tmp_path / "o" / "loft" / "faired.csv").read_text().splitlines())
    row = next(row for row in rows if row and row[0] == "waterline 3-0-0")
    assert row[7] in ("3-5-2+", "3-5-3", "3-5-3+")
