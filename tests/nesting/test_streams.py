"""What is printed goes where the shell points it: closed, full, unread, or of few letters."""

import errno
import io
import os
import subprocess
import sys

import pytest
from project_texts import BOARD, project_text, written
from rich.console import Console

from nesting import cli
from nesting.commands.shared import say
from nesting.console import terminal, text_table
from nesting.streams import _Pipe, set_in
from nesting.text_table import TextTable

STRAKE = (
    "  - {part: s, family: ceiling strake, species: teak, shape: {length: 900, width: 50, "
    "thickness: 25, frame_spacing: 300}}\n"
)
RUN = [sys.executable, "-m", "nesting"]


def _shell(line: str, *arguments: object, **environment: str) -> subprocess.CompletedProcess[str]:
    """Run a line of bash in which "$@" is the program and its arguments."""
    command = ["bash", "-o", "pipefail", "-c", line, "bash", *RUN, *map(str, arguments)]
    return subprocess.run(
        command, env={**os.environ, **environment}, capture_output=True, text=True, check=False
    )


@pytest.fixture
def project(tmp_path):
    return written(tmp_path, project_text(stock=BOARD.replace("D-01", "Łódź 😄"), parts=STRAKE))


@pytest.mark.parametrize(
    ("line", "says"),
    [('"$@" >&-', "standard output is closed"), ('"$@" >/dev/full', "No space left on device")],
    ids=["closed", "full"],
)
@pytest.mark.parametrize("command", ["check", "--help"])
def test_output_that_cannot_be_written_is_a_sentence(project, line, says, command):
    arguments = ["check", project] if command == "check" else [command]
    done = _shell(line, *arguments)
    assert done.returncode == cli.NO_FILE
    assert done.stderr.startswith("salvage-nest: standard output")
    assert says in done.stderr
    assert len(done.stderr.splitlines()) == 1


def test_closed_output_gets_into_no_sheet(project, tmp_path):
    folder = tmp_path / "out"
    done = _shell(
        '"$@" 0<&- >&- 2>&-', "nest", project, "-o", folder, "--rounds", 0, "--workers", 1
    )
    assert done.returncode == cli.NO_FILE
    assert (done.stdout, done.stderr) == ("", "")
    assert _shell('"$@"', "remeasure", project, "-o", folder).returncode == 0


@pytest.mark.parametrize("line", ['"$@" 2>&-', '"$@" 2>/dev/full', '"$@" 2> >(true)'])
def test_errors_that_cannot_be_written_lose_no_exit_code(tmp_path, line):
    done = _shell(line, "check", tmp_path / "none.yaml")
    assert done.returncode == cli.PROJECT_WRONG
    assert done.stdout == ""


def test_reader_that_ends_early_ends_it_quietly():
    done = _shell('"$@" | head -1', "schema")
    assert done.stdout == "{\n"
    assert done.stderr == ""
    assert done.returncode == cli.UNREAD == 141


def test_table_for_a_reader_that_ended_is_no_bug_either():
    class Ended(io.StringIO):
        def write(self, text):
            raise BrokenPipeError

    console = terminal()
    console.file = Ended()
    with pytest.raises(BrokenPipeError):
        console.print(text_table(TextTable("Wood", ("board",), (("D-1",),))))


def test_letters_that_the_terminal_has_not_are_written_out(project, tmp_path):
    folder = tmp_path / "out"
    few = {"PYTHONIOENCODING": "ascii", "PYTHONUTF8": "0", "LC_ALL": "C"}
    done = _shell('"$@"', "nest", project, "-o", folder, "--rounds", 0, "--workers", 1, **few)
    assert done.returncode == 0
    assert "\\u0141\xf3" not in done.stdout
    assert "\\u0141\\xf3d\\u017a \\U0001f604" in done.stdout
    assert done.stderr == ""


def test_path_of_no_letters_at_all_is_shown_written_out(tmp_path):
    path = os.fsencode(tmp_path) + b"/\xff\x1b[31m.yaml"
    done = subprocess.run([*RUN, "check", path], capture_output=True, check=False)
    assert done.returncode == cli.PROJECT_WRONG
    assert b"\\udcff\\x1b[31m.yaml:1:1: there is no such file" in done.stderr
    assert b"\x1b" not in done.stderr


def test_pipe_speaks_once_and_then_takes_all(monkeypatch):
    def refuse(*_):
        raise OSError(errno.ENOSPC, "No space left on device")

    monkeypatch.setattr(os, "write", refuse)
    pipe = _Pipe(1, is_open=True, is_quiet=False)
    with pytest.raises(OSError, match="No space left"):
        pipe.write(b"abc")
    assert pipe.write(b"abc") == 3


@pytest.mark.parametrize("option", [["-o", ""], ["-o", "  "], ["-o", "a\0b"], ["--seconds", "nan"]])
def test_option_that_says_nothing_is_refused(project, capsys, option):
    with pytest.raises(SystemExit) as ended:
        cli.main(["nest", str(project), *option])
    assert ended.value.code == cli.USAGE
    assert f"argument {option[0]}" in capsys.readouterr().err


def test_name_with_a_line_break_shows_no_message_of_its_own(project, capsys):
    with pytest.raises(SystemExit) as ended:
        cli.main(["check", f"{project}\nsalvage-nest: all is well"])
    assert ended.value.code == cli.USAGE
    last = capsys.readouterr().err.splitlines()[-1]
    assert last.startswith("salvage-nest check: error: ") and "has a line break in it" in last


@pytest.mark.parametrize("command", ["solids", "boat"])
@pytest.mark.parametrize(
    ("error", "says"),
    [
        (ModuleNotFoundError("no", name="cadquery"), "the library cadquery, which is not instal"),
        (ImportError("libGL.so.1", name="vtkmodules.x"), "the library vtk, which fails (libGL.so"),
    ],
    ids=["missing", "broken"],
)
def test_missing_library_is_a_sentence(project, capsys, monkeypatch, command, error, says):
    def fail(_):
        raise error

    monkeypatch.setitem(cli.COMMANDS, command, fail)
    assert cli.main([command, str(project)]) == cli.NO_FILE
    assert f"salvage-nest: {command} needs {says}" in capsys.readouterr().err


def test_module_of_our_own_that_is_missing_is_no_sentence(project, monkeypatch):
    def fail(_):
        raise ModuleNotFoundError("no", name="nesting.gone")

    monkeypatch.setitem(cli.COMMANDS, "check", fail)
    with pytest.raises(ModuleNotFoundError):
        cli.main(["check", str(project)])


def test_what_a_library_prints_past_python_is_not_in_the_output():
    code = (
        "import os; from nesting.streams import make_safe\n"
        "make_safe(); os.write(1, b'noise of a solver'); print('{}', flush=True)"
    )
    done = subprocess.run([sys.executable, "-c", code], capture_output=True, text=True, check=True)
    assert (done.stdout, done.stderr) == ("{}\n", "")


def test_table_whose_headings_have_no_room_is_told_in_words():
    """Columns of figures keep their headings whole: none is taken from the names beside them."""
    figures = ("#thick", "#boards", "#of them offcuts", "#area", "#volume")
    names = ("wood", *figures, "held", "#unchecked")
    row = ("white oak", "1 1/8 in", "3", "0", "13.0 sq ft", "14.6 board feet", "2 by Wren", "3")
    stream = io.StringIO()
    console = Console(file=stream, width=80)
    console.print(text_table(TextTable("Wood", names, (row,))))
    lines = [line.rstrip() for line in stream.getvalue().splitlines()]
    assert " ".join(lines).strip() == (
        "Wood white oak: thick 1 1/8 in, boards 3, of them offcuts 0, area 13.0 sq ft, volume "
        "14.6 board feet, held 2 by Wren, unchecked 3"
    )


class Narrow(io.StringIO):
    """A terminal of the width that its environment states."""

    def isatty(self):
        return True


PROSE = "2 pieces stay, 2 moved (0 of them to another board), 0 new, 1 gone; see board-A.dxf"


@pytest.mark.parametrize("width", [30, 40, 67, 80, 200])
def test_prose_is_set_in_the_rows_of_a_terminal(monkeypatch, width):
    monkeypatch.setenv("COLUMNS", str(width))
    terminal = Narrow()
    say(f"{PROSE}\n{PROSE}", terminal)
    rows = terminal.getvalue().splitlines()
    assert max(map(len, rows)) <= width
    assert " ".join(row.strip() for row in rows) == f"{PROSE} {PROSE}"


@pytest.mark.parametrize("width", [30, 40, 60])
@pytest.mark.parametrize(
    ("head", "below"),
    [("  spring   ", {30: 11, 40: 11, 60: 11}), ("12  2026-05-06 19:20  ", {30: 4, 40: 4, 60: 22})],
)
def test_a_row_of_a_list_goes_on_below_its_prose(head, below, width):
    first, *rows = set_in(head + PROSE, width).split("\n")
    assert first.startswith(head) or width == 30
    assert {len(row) - len(row.lstrip()) for row in rows} == {below[width]}
    assert max(map(len, (first, *rows))) <= width
    assert " ".join([first.strip(), *(row.strip() for row in rows)]) == (head + PROSE).strip()


@pytest.mark.parametrize(
    "line",
    ["/a/path/that/is/longer/than/a/row", '{"json": "that another program reads, in one line"}',
     "  - {board: A, species: teak, thickness: 24, length: 900}"],
)  # fmt: skip
def test_paths_and_data_stay_as_they_are(line):
    assert set_in(line, 20) == line


def test_nothing_is_set_in_rows_where_no_terminal_is(monkeypatch):
    monkeypatch.setenv("COLUMNS", "30")
    stream = io.StringIO()
    say(PROSE, stream)
    assert stream.getvalue() == f"{PROSE}\n"
