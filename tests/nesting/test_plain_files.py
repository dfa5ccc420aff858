"""Pipes, devices and folders where a file is meant: told at once, never waited for."""

import os
import signal

import pytest
from project_texts import BOARD, project_text, written

from nesting import cli
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
