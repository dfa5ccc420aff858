"""A folder of cut sheets: what may be in it, what a full disk does, who else writes into it."""

import errno
import os
import shutil

import pytest
from faults import at_every_door, content

from nesting import boat_outputs, cli
from nesting.errors import OutputError
from nesting.folders.whole_folder import LIST, NOTE, held
from nesting.sheets.whole_file import write_whole

PROJECT = """\
version: 1
name: Whole
unit: mm
stock:
  - {board: A, species: teak, thickness: 30, length: 1200, width: 120}
  - {board: B 1, species: teak, thickness: 30, length: 300, width: 50}
parts:
  - {part: strake, family: ceiling strake, species: teak,
     shape: {length: 900, width: 70, thickness: 22, frame_spacing: 250}}
"""


@pytest.fixture
def project(tmp_path):
    path = tmp_path / "whole.yaml"
    path.write_text(PROJECT)
    return path


@pytest.fixture
def folder(tmp_path):
    return tmp_path / "out"


def nest(project, folder, *more):
    return cli.main(["nest", str(project), "-o", str(folder), "--rounds", "0", "-q", *more])


@pytest.fixture
def no_search(monkeypatch):
    def refuse(*_, **__):
        raise AssertionError("searched")

    monkeypatch.setattr("nesting.engine.pack.pack", refuse)


@pytest.mark.parametrize("name", ["board-A.dxf", "board-B-1.dxf", "overview.dxf", "summary.json"])
@pytest.mark.parametrize("more", [(), ("--overwrite",)], ids=["plain", "overwriting"])
def test_file_of_the_user_is_refused_before_the_search(
    project, folder, no_search, capsys, name, more
):
    folder.mkdir()
    (folder / name).write_text("{}")
    assert nest(project, folder, *more) == cli.NO_FILE
    told = capsys.readouterr().err
    assert f"{name} would be overwritten, and no plan in that folder says that it wrote it" in told
    assert content(folder) == {name: b"{}"}


@pytest.mark.parametrize("name", ["board-A.dxf", "overview.dxf", "summary.json"])
def test_folder_named_like_a_file_is_refused_before_the_search(
    project, folder, no_search, capsys, name
):
    (folder / name).mkdir(parents=True)
    assert nest(project, folder, "--overwrite") == cli.NO_FILE
    assert f"{name} is a folder" in capsys.readouterr().err
    assert (folder / name).is_dir()


def test_sheet_beside_a_plan_that_does_not_name_it_is_refused(project, folder, no_search, capsys):
    folder.mkdir()
    (folder / "summary.json").write_text(
        '{"version": 2, "project": "x", "boards": [{"file": "board-A.dxf"}, {"file": "mine.dxf"}]}'
    )
    (folder / "board-A.dxf").write_text("ours")
    (folder / "board-B-1.dxf").write_text("the user's")
    assert nest(project, folder, "--overwrite") == cli.NO_FILE
    assert "board-B-1.dxf would be overwritten, and no plan" in capsys.readouterr().err


def test_summary_that_names_other_files_takes_none_of_them(project, folder):
    folder.mkdir()
    named = (
        '{"version": 2, "project": "x", "boards": [{"file": "mine.dxf"}, {"file": "../up.dxf"}]}'
    )
    (folder / "summary.json").write_text(named)
    (folder / "mine.dxf").write_text("mine")
    (folder.parent / "up.dxf").write_text("mine")
    assert nest(project, folder, "--overwrite") == cli.ALL_PLACED
    assert (folder / "mine.dxf").read_text() == "mine"
    assert (folder.parent / "up.dxf").read_text() == "mine"


def test_second_run_into_a_folder_is_refused_before_the_search(project, folder, no_search, capsys):
    with held(folder):
        import nesting.folders.folder_lock as lock

        own, lock._held = lock._held, set()  # As another process sees it.
        try:
            assert nest(project, folder, "--overwrite") == cli.NO_FILE
        finally:
            lock._held = own
    assert "another run is writing into" in capsys.readouterr().err


def test_disk_that_is_full_at_any_one_file_leaves_the_earlier_plan(project, folder, capsys):
    nest(project, folder)
    (folder / "notes.txt").write_text("mine")
    before = content(folder)
    project.write_text(PROJECT.replace("length: 900", "length: 800"))
    for name in ("board-A.dxf", "overview.dxf", "summary.json", LIST, NOTE, "being-replaced"):
        capsys.readouterr()
        came = []

        def full(door, *given, name=name, came=came):
            is_making = door in {"open", "mkdir", "rename", "replace"}
            if is_making and any(name in os.path.basename(str(path)) for path in given[:2]):
                came.append(door)
                raise OSError(errno.ENOSPC, os.strerror(errno.ENOSPC))

        with at_every_door(full, with_given=True):
            assert nest(project, folder, "--overwrite") == cli.NO_FILE
        told = capsys.readouterr().err
        assert came, name
        assert "No space left on device" in told
        assert ".unfinished" not in told
        with held(folder):
            pass
        assert content(folder) == before, name
    assert nest(project, folder, "--overwrite") == cli.ALL_PLACED
    assert content(folder) != before


def test_folder_taken_away_during_the_search_is_made_again(project, folder, monkeypatch):
    from nesting.engine.search import gather

    real = gather.gathered_plan

    def gathered(*given):
        shutil.rmtree(folder)
        return real(*given)

    monkeypatch.setattr("nesting.engine.pack.gathered_plan", gathered)
    assert nest(project, folder) == cli.ALL_PLACED
    assert set(content(folder)) == {"board-A.dxf", "overview.dxf", "summary.json"}


def test_boards_file_name_does_not_depend_on_what_else_is_opened(project, folder):
    project.write_text(
        PROJECT.replace("board: A,", "board: b 1,").replace("board: B 1", "board: B/1")
    )
    nest(project, folder)
    assert "board-b-1.dxf" in content(folder)


def test_file_of_a_killed_writer_goes_with_the_next_writing(tmp_path):
    left = tmp_path / f".a.dxf.{2**22 + 5}.part"  # No process has this number: it is past the most.
    of_another, own = tmp_path / f".a.dxf.{os.getppid()}.part", tmp_path / ".a.dxf.x.part"
    for path in (left, of_another, own):
        path.write_text("half")
    write_whole(tmp_path / "a.dxf", b"whole")
    assert not left.exists()
    assert of_another.exists()
    assert own.exists()


def test_picture_that_cannot_be_drawn_leaves_none_of_an_earlier_boat(tmp_path, monkeypatch):
    folder = tmp_path / "boat"
    folder.mkdir()
    (folder / boat_outputs.PICTURE).write_bytes(b"earlier")

    def refuse(*_):
        raise OutputError("no way to draw")

    monkeypatch.setattr(boat_outputs, "picture_of", refuse)
    monkeypatch.setattr(boat_outputs, "boat_drawing", lambda *_: None)
    monkeypatch.setattr(boat_outputs, "write_dxf", lambda _, path, **__: path.write_bytes(b"dxf"))
    monkeypatch.setattr(boat_outputs, "write_svg", lambda _, path, **__: path.write_bytes(b"svg"))
    monkeypatch.setattr("parts.model.assembly.boat_assembly", lambda *_: None)
    monkeypatch.setattr("parts.model.assembly.step_bytes", lambda *_: b"step")

    class Boat:
        hull = None

    class Project:
        boat, parts, path, name, dxf_version = Boat, {}, "x.yaml", "x", "R2010"

    with pytest.raises(OutputError, match="no way to draw"):
        boat_outputs.write_boat(Project, {}, ("piece",), folder, overwrite=True)
    assert set(content(folder)) == {"boat.step", "boat.dxf", "boat.svg"}
