"""Files of one run in a folder: those before, whole, or those after, whole, whatever comes."""

import json
import os
import signal
import subprocess
import sys
from pathlib import Path

import pytest
from faults import at_every_door, content, disk_full_from, full_disk, in_a_child, signalled

from nesting.errors import InUseError, OutputError
from nesting.folders.whole_folder import REPLACING, UNFINISHED, held, replaced_whole, settle
from nesting.processes.interrupt import Stage, Stopped, signals_answered

OLD = {"a.dxf": b"old a", "b.dxf": b"old b", "summary.json": b"old"}
NEW = {"a.dxf": b"new a", "c.dxf": b"new c", "summary.json": b"new"}
OWN = {"notes.txt": b"my own", "kept/drawing.dxf": b"my own too"}


@pytest.mark.parametrize("place", ["{}", "{}/c.dxf", "{}/sub/c.dxf"])
def test_message_of_a_run_names_the_folder_that_people_know_and_keeps_its_words(tmp_path, place):
    said = f"{place} is no folder: make it first, or name another"
    with pytest.raises(OutputError) as told, replaced_whole(tmp_path / "out") as fresh:
        raise OutputError(said.format(fresh))
    assert str(told.value) == said.format(tmp_path / "out")


@pytest.fixture
def folder(tmp_path):
    for name, text in {**OLD, **OWN}.items():
        path = tmp_path / "out" / name
        path.parent.mkdir(parents=True, exist_ok=True)
        path.write_bytes(text)
    return tmp_path / "out"


def replace(folder, tell=lambda _: None, when_placed=lambda: None):
    with at_every_door(tell), replaced_whole(
        folder, gone=["b.dxf"], when_placed=when_placed
    ) as fresh:  # fmt: skip
        for name, text in NEW.items():
            with (fresh / name).open("wb") as stream:
                stream.write(text)
                os.fsync(stream.fileno())


def doors(folder):
    """Return how many doors one replacing goes through."""
    seen = []
    assert in_a_child(lambda: replace(folder)) == 0
    replace(folder, seen.append)
    return len(seen)


def one_of_both(folder):
    found = content(folder)
    assert found in ({**OLD, **OWN}, {**NEW, **OWN}), found
    return found == {**NEW, **OWN}


def again(folder):
    """Put the files of before back, and nothing else."""
    for name in {*OLD, *NEW}:
        (folder / name).unlink(missing_ok=True)
    for name, text in OLD.items():
        (folder / name).write_bytes(text)


def test_new_files_come_old_ones_go_and_others_stay(folder):
    replace(folder)
    assert one_of_both(folder)


def test_killed_at_any_door_leaves_one_or_the_other_once_somebody_looks(folder):
    count, outcomes = doors(folder), []
    assert count > 30
    for nth in range(1, count + 1):
        again(folder)
        work = lambda n=nth: replace(folder, signalled(n, signal.SIGKILL))  # noqa: E731
        assert in_a_child(work) == -signal.SIGKILL
        is_mixed = (folder / REPLACING).exists()
        found = content(folder)
        loose = {name: text for name, text in found.items() if "/" not in name}
        assert is_mixed or {**loose, **OWN} in ({**OLD, **OWN}, {**NEW, **OWN})
        settle(folder)  # A reader puts right what concerns it,
        with held(folder):  # and whoever writes clears away the rest.
            pass
        outcomes.append(one_of_both(folder))
    assert outcomes == sorted(outcomes), "new from some moment on, and for good"
    assert set(outcomes) == {False, True}


@pytest.mark.parametrize("fault", [full_disk, disk_full_from], ids=["once", "from then on"])
def test_full_disk_at_any_door_is_told_and_leaves_one_or_the_other(folder, fault):
    failed = 0
    for nth in range(1, doors(folder) + 1):
        again(folder)
        try:
            replace(folder, fault(nth))
        except OutputError as error:
            failed += 1
            assert str(folder) in str(error)
            assert UNFINISHED not in str(error)
            with held(folder):
                pass
            assert not one_of_both(folder), "an error says that nothing was changed"
        else:
            with held(folder):
                pass
            assert one_of_both(folder)
    assert failed > 10


@pytest.mark.parametrize("number", [signal.SIGINT, signal.SIGTERM, signal.SIGHUP])
def test_signal_at_any_door_leaves_what_it_says(folder, number):
    told = set()
    for nth in range(1, doors(folder) + 1):
        again(folder)
        with signals_answered(Stage.WRITING) as stopping:
            stopping.number = number  # The second one: the first ended the search.
            try:
                replace(folder, signalled(nth, number), lambda s=stopping: s.reach(Stage.WRITTEN))
                stage = Stage.WRITTEN
            except Stopped as stop:
                stage = Stage.WRITTEN if Stage.WRITTEN.value in str(stop) else Stage.WRITING
                assert stop.code == 128 + number
        with held(folder):
            pass
        assert one_of_both(folder) == (stage is Stage.WRITTEN)
        told.add(stage)
    assert told == {Stage.WRITING, Stage.WRITTEN}


def test_folder_named_like_a_file_is_not_lost(folder):
    (folder / "c.dxf" / "inner").mkdir(parents=True)
    with pytest.raises(OutputError, match=r"c\.dxf is a folder|cannot be written"):
        replace(folder)
    assert (folder / "c.dxf" / "inner").is_dir()
    assert content(folder) == {**OLD, **OWN}


def test_strange_folder_of_that_name_is_left_and_told(folder):
    (folder / REPLACING).mkdir()
    (folder / REPLACING / "mine.txt").write_bytes(b"mine")
    with pytest.raises(OutputError, match=f"{REPLACING} is none of ours.*move it"):
        replace(folder)
    assert (folder / REPLACING / "mine.txt").read_bytes() == b"mine"


def test_folder_that_was_made_for_nothing_is_gone(tmp_path):
    with pytest.raises(ZeroDivisionError), replaced_whole(tmp_path / "x" / "y"):
        _ = 1 / 0
    assert list(tmp_path.iterdir()) == []


HOLDER = """
import sys, time
from pathlib import Path
from nesting.folders.whole_folder import held
with held(Path(sys.argv[1])):
    print("held", flush=True)
    time.sleep(60)
"""


def test_one_run_at_a_time_and_the_system_lets_go_of_what_a_killed_one_held(folder):
    with subprocess.Popen(
        [sys.executable, "-c", HOLDER, str(folder)], stdout=subprocess.PIPE, text=True,
        cwd=Path(__file__).parents[3],
    ) as other:  # fmt: skip
        assert other.stdout.readline() == "held\n"
        with pytest.raises(InUseError, match=r"another run is writing into .*another folder"):
            replace(folder)
        assert other.poll() is None, "nobody waited for it"
        assert content(folder) == {**OLD, **OWN}
        other.kill()
        other.wait()
        replace(folder)
    assert one_of_both(folder)


def test_lock_of_a_file_serves_where_a_folder_cannot_be_locked(folder, monkeypatch):
    import fcntl

    def refuse(*_):
        raise OSError(9, "Bad file descriptor")

    monkeypatch.setattr(fcntl, "flock", refuse)
    with held(folder):
        assert (folder / ".in-use").exists()
        assert in_a_child(lambda: _expect_in_use(folder)) == 0
    replace(folder)
    assert one_of_both(folder)


def _expect_in_use(folder):
    from nesting.folders import folder_lock

    folder_lock._held.clear()
    with pytest.raises(InUseError):
        replace(folder)


@pytest.mark.parametrize("key", ["new", "gone", "before"])
@pytest.mark.parametrize(
    "names",
    [["../mine.txt"], ["{mine}"], ["."], [".."], [""], [".hidden"], [7], "a.dxf", None, {"a": 1},
     ["being-replaced"], ["..\\mine.txt"]],
    ids=str,
)  # fmt: skip
def test_list_that_somebody_else_wrote_moves_nothing(folder, tmp_path, key, names):
    """A folder that came from elsewhere may name files anywhere."""
    mine = tmp_path / "mine.txt"
    mine.write_text("my own")
    place = folder / REPLACING
    for name in ("new", "old"):
        (place / name).mkdir(parents=True)
    change = {"new": [], "gone": [], "before": []}
    change[key] = [str(mine) if name == "{mine}" else name for name in names] if isinstance(
        names, list
    ) else names  # fmt: skip
    (place / "list.json").write_text(json.dumps(change))
    with pytest.raises(OutputError, match=f"{REPLACING} is none of ours.*move it"):
        settle(folder)
    assert mine.read_text() == "my own"


@pytest.mark.parametrize("content", ["[" * 100_000, "[]", "7", '{"new": [], "old": []}', "\x00"])
def test_list_that_is_none_is_told(folder, content):
    (folder / REPLACING).mkdir()
    (folder / REPLACING / "list.json").write_text(content)
    with pytest.raises(OutputError, match=f"{REPLACING} is none of ours.*move it"):
        settle(folder)
