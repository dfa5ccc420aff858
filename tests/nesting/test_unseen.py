"""Names are shown as they are, and nothing that cannot be seen gets past the reading of a file."""

import io
import json
import unicodedata

import pytest
from project_texts import BOARD, findings_of, project_text, written
from rich.console import Console

from nesting import cli
from nesting.commands.shared import show
from nesting.console.bare_tables import bare_table
from nesting.unseen import quoted, short, shown, unseen_in

STRAKE = (
    "  - {part: s, family: ceiling strake, species: teak, shape: {length: 900, width: 50, "
    "thickness: 25, frame_spacing: 300}}\n"
)

HIDDEN = ["\x1b[31m", "\x07", "\x08", "\u202e", "\u2066", "\u200b", "\ufeff", "\xa0", "\x9b31m"]


def _escaped(text: str) -> str:
    return "".join(f"\\U{ord(letter):08x}" for letter in text)


@pytest.mark.parametrize("hidden", HIDDEN, ids=ascii)
@pytest.mark.parametrize("key", ["board", "member", "came_from", "species"])
def test_what_nobody_sees_is_refused_where_it_is_written(tmp_path, key, hidden):
    stock = f'  - {{{key}: "D{_escaped(hidden)}1", thickness: 40, length: 2000, width: 150}}\n'
    (found, *_) = findings_of(written(tmp_path, project_text(stock=stock)))
    assert found.startswith(f"5:{8 + len(key)}: ")
    first = next(letter for letter in hidden if not letter.isprintable())
    assert f"holds U+{ord(first):04X} (" in found
    assert found.isprintable()


def test_what_nobody_sees_in_a_key_is_refused(tmp_path):
    stock = BOARD.replace("width", '"wid\\u202eth"')
    (found,) = findings_of(written(tmp_path, project_text(stock=stock)))
    assert "holds U+202E (right-to-left override), which nobody sees; take it out" in found


def _is_blank(letter):
    """Return whether a printed character shows nothing, by its name in the standard."""
    name = unicodedata.name(letter, "")
    is_filler = "FILLER" in name and "HANGUL" in name
    return is_filler or "VARIATION SELECTOR" in name or name in (
        "COMBINING GRAPHEME JOINER", "BRAILLE PATTERN BLANK",
        "KHMER VOWEL INHERENT AQ", "KHMER VOWEL INHERENT AA",
    )  # fmt: skip


def test_every_character_of_the_standard_is_seen_or_named():
    for code in (*range(0x3200), *range(0xD7F0, 0x11000), *range(0xDFFF0, 0xE01F0)):
        letter = chr(code)
        is_control = unicodedata.category(letter) in ("Cc", "Cf", "Cs", "Co", "Cn", "Zl", "Zp")
        if is_control or _is_blank(letter):
            assert unseen_in(letter), f"{code:x}"
            assert letter == "\n" or shown(letter).isprintable(), f"{code:x}"
        elif unicodedata.category(letter) != "Zs":
            assert shown(letter) == letter, f"{code:x}"


@pytest.mark.parametrize("code", ["\\U+0041", "\\M+1B5D2", "\\u+0042"])
def test_code_that_a_dxf_takes_for_a_letter_is_refused(tmp_path, code):
    text = project_text(stock=BOARD.replace("D-01", f"'D {code}'"), parts=STRAKE)
    (found,) = findings_of(written(tmp_path, text))
    assert "which a DXF takes for the code of a letter" in found


def test_text_without_end_is_refused_with_its_place(tmp_path):
    text = project_text(stock=BOARD.replace("D-01", "D" * 5000), parts=STRAKE)
    (found,) = findings_of(written(tmp_path, text))
    assert found == "5:13: a text of 5,000 characters, at most 4,000; make it short"


def test_message_repeats_no_more_than_a_line():
    assert len(short("x" * 5000)) == 80
    assert quoted("y" * 5000).startswith("'yyy")
    assert short("keel") == "keel"


def test_unseen_in_a_table_of_offsets_names_its_line(tmp_path):
    from nesting.errors import ProjectFileError
    from parts.lines.read_table import read_table

    path = tmp_path / "table.csv"
    path.write_text("name, Withy\x1b[2J\nunit, ft\n")
    with pytest.raises(ProjectFileError, match=r"csv:1:1: U\+001B \(escape\)"):
        read_table(path)


MARKED = "A [port] [red]:smile:[/red] [link=x]"


def test_names_are_shown_as_they_are(tmp_path, capsys):
    stock = BOARD.replace("D-01", f"'{MARKED}'").replace("}", ", moisture: 30}")
    parts = STRAKE.replace("part: s,", "part: 's [bold]x', quantity: 90,")
    path = written(tmp_path, project_text(stock=stock, parts=parts))
    folder = tmp_path / "out"
    assert cli.main(["nest", str(path), "-o", str(folder), "--rounds", "0"]) == 0
    out = capsys.readouterr().out
    assert MARKED in " ".join(out.split())
    assert "s [bold]x" in out
    summary = json.loads((folder / "summary.json").read_text())
    assert [row["board"] for row in summary["boards"]] == [MARKED]
    assert cli.main(["strength", str(path), "-o", str(folder)]) == 0
    assert "s [bold]x" in capsys.readouterr().out


def test_table_writes_out_what_a_file_from_elsewhere_says(capsys):
    table = bare_table("lost\x9b2J", "part", "#why")
    table.add_row("A [port]", "\x1b[31mred\u202e")
    show(table)
    out = capsys.readouterr().out
    assert out.replace("\n", "").isprintable()
    assert "A [port]" in out
    assert "\\x1b[31mred\\u202e" in out
    assert "lost\\x9b2J" in out


@pytest.mark.parametrize("width", ["20", "40", "60", "79"])
def test_narrow_terminal_keeps_board_and_every_figure(tmp_path, capsys, monkeypatch, width):
    monkeypatch.setenv("COLUMNS", width)
    path = written(tmp_path, project_text(parts=STRAKE))
    cli.main(["nest", str(path), "-o", str(tmp_path / "out"), "--rounds", "0"])
    out = capsys.readouterr().out
    assert "D-01" in out
    shares = json.loads((tmp_path / "out" / "summary.json").read_text())["area_percent"]
    assert "…" not in out
    for name in ("parts", "offcuts", "defects", "oddments"):
        assert f"{shares[name]:.1f}" in out, name


@pytest.mark.parametrize("where", ["in-the-file", "as-an-option"])
def test_emoji_is_refused_for_r12_before_the_search(tmp_path, capsys, where, monkeypatch):
    monkeypatch.setattr("nesting.engine.pack.pack", lambda *_, **__: pytest.fail("searched"))
    head = "version: 1\nname: yard boat\nunit: mm\n"
    option = [] if where == "in-the-file" else ["--dxf", "R12"]
    rest = "outputs: {dxf: R12}\n" if where == "in-the-file" else ""
    stock = BOARD.replace("D-01", "'D 😄'").replace("}", ", came_from: 'deck 🚢'}")
    path = written(tmp_path, project_text(head=head, stock=stock, parts=STRAKE, rest=rest))
    code = cli.main(["nest", str(path), "-o", str(tmp_path / "out"), "--rounds", "0", *option])
    err = capsys.readouterr().err
    assert code == cli.PROJECT_WRONG
    assert "project.yaml:5:13: board D 😄: 'D 😄' holds 😄 (U+1F604), which a DXF in R12" in err
    assert "deck 🚢" in err


def test_letters_of_many_scripts_come_back_from_either_dxf(tmp_path):
    stock = BOARD.replace("D-01", "'Łódź Ж שלום 日本'")
    for version in ("R12", "R2010"):
        path = written(tmp_path, project_text(stock=stock, parts=STRAKE))
        folder = str(tmp_path / version)
        assert cli.main(["nest", str(path), "-o", folder, "--rounds", "0", "--dxf", version]) == 0
        assert cli.main(["remeasure", str(path), "-o", folder]) == 0


@pytest.mark.parametrize("width", range(8, 60, 4))
def test_figure_never_loses_its_unit(width):
    """Whether as a table or as paragraphs: 41 cu f, or nothing at all, would be another figure."""
    table = bare_table("Afloat", "", "#1-0-0", "#1-6-0")
    table.add_row("volume of all the water she displaces", "11.27 cu ft", "113.98 cu ft")
    out = io.StringIO()
    Console(file=out, width=width).print(table)
    told = " ".join(out.getvalue().split())
    assert "11.27 cu ft" in told
    assert "113.98 cu ft" in told


@pytest.mark.parametrize(
    "letter",
    [
        "\u034f",
        "\u115f",
        "\u1160",
        "\u17b4",
        "\u180b",
        "\u2800",
        "\u3164",
        "\ufe0f",
        "\uffa0",
        "\U000e0101",
    ],
)
def test_letter_that_counts_as_printed_and_shows_nothing_is_told(letter):
    """Two boards may else have names that look the same."""
    assert f"U+{ord(letter):04X} (" in (unseen_in(f"D-01{letter}") or "")
    assert letter not in shown(f"D-01{letter}")


@pytest.mark.parametrize("text", ["Ärmel n\u0303 7", "борт 2", "木の板", "لوح", "दारु", "½ in"])
def test_letters_of_every_script_are_seen(text):
    assert unseen_in(text) is None
    assert shown(text) == text
