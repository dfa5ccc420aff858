"""Pipes, devices and folders where a file is meant: told at once, never waited for."""

import ast
import os
import signal
from contextlib import nullcontext
from pathlib import Path
from types import SimpleNamespace

import pytest
from project_texts import BOARD, project_text, written

from nesting import cli, plain_file
from nesting.plain_file import plain_bytes

STRAKE = (
    "  - {part: s, family: ceiling strake, species: teak, shape: {length: 900, width: 50, "
    "thickness: 25, frame_spacing: 300}}\n"
)


@pytest.fixture(autouse=True)
def in_time():
    """What waits for a pipe waits for ever."""

    def late(*_):
        raise AssertionError("waited for what never comes")

    before = signal.signal(signal.SIGALRM, late)
    signal.alarm(60)
    yield
    signal.alarm(0)
    signal.signal(signal.SIGALRM, before)


@pytest.mark.parametrize("what", ["pipe", "device", "folder", "link"])
def test_only_a_plain_file_is_read(tmp_path, what):
    path = tmp_path / "x"
    if what == "pipe":
        os.mkfifo(path)
    elif what == "folder":
        path.mkdir()
    else:
        path.symlink_to("/dev/zero" if what == "device" else tmp_path / "nowhere")
    with pytest.raises(OSError) as told:
        plain_bytes(path, 100)
    assert told.value.strerror


def test_plain_file_that_has_nothing_to_give_yet_is_not_waited_for(tmp_path, monkeypatch):
    """As the kernel's log does: plain by its kind, and it would block."""
    path = tmp_path / "x"
    path.write_bytes(b"")

    blocked = nullcontext(SimpleNamespace(read=lambda _: None))
    monkeypatch.setattr(plain_file, "open", lambda *_, **__: blocked, raising=False)
    with pytest.raises(OSError, match="no plain file"):
        plain_bytes(path, 100)


def test_file_that_is_too_large_is_not_read(tmp_path):
    path = tmp_path / "x"
    path.write_bytes(b"123456")
    assert plain_bytes(path, 6) == b"123456"
    with pytest.raises(OSError, match="larger than"):
        plain_bytes(path, 5)


def ends(capsys, *words):
    """Return the code and the message that a command ends with."""
    code = cli.main([str(word) for word in words])
    return code, capsys.readouterr().err


ODD = ["pipe", "/dev/zero"]


def odd(path, kind):
    os.mkfifo(path) if kind == "pipe" else path.symlink_to(kind)
    return path


@pytest.mark.parametrize("kind", ODD)
@pytest.mark.parametrize("command", ["check", "nest", "judge", "loft", "book"])
def test_project_that_is_no_plain_file_is_refused(tmp_path, capsys, command, kind):
    path = odd(tmp_path / "project.yaml", kind)
    words = {
        "judge": ["judge", path, "--project", path],
        "loft": ["loft", path],
        "book": ["book", "status", path],
    }
    code, said = ends(capsys, *words.get(command, [command, path]))
    assert code in (cli.PROJECT_WRONG, cli.NO_FILE)
    assert "no plain file" in said or "is a .csv or a .yaml file" in said


@pytest.mark.parametrize("kind", ODD)
@pytest.mark.parametrize("ending", ["svg", "dxf", "csv", "xlsx", "yaml", "py"])
def test_file_that_a_project_names_and_is_none_is_refused(tmp_path, capsys, ending, kind):
    odd(tmp_path / f"odd.{ending}", kind)
    drawn = f"  - {{board: A, species: teak, thickness: 24, drawing: {{file: odd.{ending}}}}}\n"
    stock = {"svg": drawn, "dxf": drawn, "py": BOARD}.get(ending, f"  - {{file: odd.{ending}}}\n")
    text = project_text(stock=stock, parts=STRAKE)
    text += "families: odd.py\n" if ending == "py" else ""
    code, said = ends(capsys, "check", written(tmp_path, text))
    assert code == cli.PROJECT_WRONG
    assert "no plain file" in said or "no such file" in said


def test_family_file_that_never_ends_is_not_read_for_consent(tmp_path, capsys):
    text = project_text(stock=BOARD, parts=STRAKE) + "families: /dev/zero\n"
    code, said = ends(capsys, "check", written(tmp_path, text), "--allow-code")
    assert code == cli.PROJECT_WRONG
    assert "zero is no Python file" in said


TWO = (
    "  - {board: A, species: teak, thickness: 30, length: 1100, width: 200}\n",
    "  - {part: s, family: plank, species: teak, shape: {length: 900, width: 50, thickness: 25}}\n",
)


def nested(tmp_path):
    project = written(tmp_path, project_text(stock=TWO[0], parts=TWO[1]))
    words = ["nest", project, "--rounds", "0", "--workers", "1", "-o", tmp_path / "out", "--quiet"]
    return project, words


@pytest.mark.parametrize("name", ["board-A.dxf", "overview.dxf", "page.html"])
def test_pipe_where_an_earlier_run_left_a_file_holds_no_run_up(tmp_path, capsys, name):
    project, words = nested(tmp_path)
    assert ends(capsys, *words, "--write", "page")[0] == 0
    (tmp_path / "out" / name).unlink()
    os.mkfifo(tmp_path / "out" / name)
    assert cli.main(["remeasure", str(project), "-o", str(tmp_path / "out")]) != 0
    told = capsys.readouterr()
    assert name in told.out + told.err
    code, said = ends(capsys, *words, "--write", "page", "--overwrite")
    assert (code, said) == (0, "")
    assert (tmp_path / "out" / name).is_file()


def test_pipe_for_a_summary_makes_the_folder_nobody_knows_whose(tmp_path, capsys):
    _, words = nested(tmp_path)
    (tmp_path / "out").mkdir()
    os.mkfifo(tmp_path / "out" / "summary.json")
    code, said = ends(capsys, *words, "--overwrite")
    assert code == cli.NO_FILE
    assert "summary.json" in said


def test_pipe_that_passes_for_a_sheet_of_another_plan_is_not_waited_for(tmp_path, capsys):
    project, words = nested(tmp_path)
    assert ends(capsys, *words)[0] == 0
    os.mkfifo(tmp_path / "out" / "another.dxf")
    ends(capsys, "remeasure", project, "-o", tmp_path / "out")


def test_picture_that_is_a_pipe_is_refused(tmp_path, capsys):
    os.mkfifo(tmp_path / "A.jpg")
    code, said = ends(
        capsys, "photo", tmp_path / "A.jpg", "--species", "teak", "--thickness", "24 mm",
        "-o", tmp_path / "out",
    )  # fmt: skip
    assert code != 0
    assert "A.jpg" in said


OWN = {
    "nesting/plain_file.py": "what reads plain files",
    "nesting/engine/geometry/compiled.py": "notes in a cache of our own",
    "nesting/sheets/group_codes.py": "comes with the package",
    "nesting/commands/nest.py": "just written",
    "nesting/photo/picture_file.py": "seen to be plain when its header was read",
    "nesting/sheets_kept.py": "the program's own files",
    "parts/model/assembly.py": "just written",
    "parts/step_files.py": "just written",
    "parts/own_code.py": "just run",
}
"""Files that read others themselves, and why nobody else can have put a pipe there."""


def test_whatever_somebody_may_have_put_there_is_read_as_a_plain_file():
    root = Path(cli.__file__).parents[1]
    found = set()
    for path in (path for part in ("nesting", "parts") for path in (root / part).rglob("*.py")):
        for node in ast.walk(ast.parse(path.read_text(encoding="utf-8"))):
            is_read = isinstance(node, ast.Attribute) and node.attr in ("read_bytes", "read_text")
            # What comes with the package is read by way of `files`.
            if is_read and "files(" not in ast.unparse(node.value):
                found.add(path.relative_to(root).as_posix())
    assert found <= set(OWN)
