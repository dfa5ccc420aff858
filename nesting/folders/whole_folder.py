"""Files that belong together: put into a folder all at once or not at all, whatever comes between.

They are written into a new folder inside it first. Then that folder is given a name by which any
later run knows that its files are to be put in place, and has what it needs to go on from any
moment at which a run can be stopped. Files of other names in the folder are never touched.
"""

from __future__ import annotations

import contextlib
import json
import os
import re
import shutil
import tempfile
import time
from collections.abc import Callable, Iterable, Iterator
from contextlib import contextmanager
from dataclasses import asdict, dataclass
from pathlib import Path

from nesting.errors import InUseError, OutputError, SalvageNestError
from nesting.folders.folder_lock import locked
from nesting.plain_file import plain_bytes
from nesting.processes.signals import signals_held

UNFINISHED = ".unfinished-"
"""What a run is writing; if the run is no more, nobody needs it."""

REPLACING = "being-replaced"
"""Whole and complete, on its way into the folder around it; no hidden name, for what is in that
folder is of two runs until it is done."""

LIST, NOTE, NEW, OLD = "list.json", "READ ME.txt", "new", "old"

NOTE_TEXT = """The files in the folder around this one are being replaced. If this folder stays,
the program was ended in the middle of it: some files are new and some old. Do not cut from them.
Any salvage-nest command that reads or writes the folder puts the rest in place.
"""

LONGEST_LIST = 100_000_000
"""Bytes of the list of what is replaced: names of more files than a folder can have."""

LONGEST_SECONDS = 10.0
"""So long a reader waits for files that another run is putting in place; they take a moment."""


@dataclass(frozen=True)
class _Change:
    """Which files are put in place, which go, and which of all were there before."""

    new: list[str]
    gone: list[str]
    before: list[str]


@contextmanager
def held(folder: Path) -> Iterator[None]:
    """Hold a folder, made if it is not there: nobody else writes into it meanwhile.

    What an earlier run was stopped in the middle of is put right first. A folder that was made
    and stays empty is gone afterwards.

    Raises
    ------
    OutputError
        If another run holds it, or it cannot be written.
    """
    with locked(folder):
        with _told(folder):
            _settle(folder)
        yield


@contextmanager
def replaced_whole(
    folder: Path, *, gone: Iterable[str] = (), when_placed: Callable[[], None] = lambda: None
) -> Iterator[Path]:
    """Yield a new folder for files that are all put into a folder when it is left, or none.

    Parameters
    ----------
    gone
        Names of files that go when the new ones come.
    when_placed
        Is told once the new files are in place, before any signal is answered again.

    Raises
    ------
    OutputError
        If the folder is held by another run or cannot be written; it is as it was then.
    """
    with held(folder), _told(folder):
        folder.mkdir(parents=True, exist_ok=True)  # Somebody may have taken it away meanwhile.
        fresh = Path(tempfile.mkdtemp(prefix=UNFINISHED, dir=folder))
        try:
            (fresh / NEW).mkdir()
            (fresh / OLD).mkdir()
            yield fresh / NEW
            with signals_held():
                _put_in_place(folder, fresh, gone)
                when_placed()
        finally:
            shutil.rmtree(fresh, ignore_errors=True)


def require_free(paths: Iterable[Path], *, overwrite: bool) -> None:
    """Refuse to write over what is there, unless that is allowed.

    Raises
    ------
    OutputError
        If any of the paths is there; names the first.
    """
    there = [path for path in paths if os.path.lexists(path)]
    if there and not overwrite:
        raise OutputError(
            f"{would_be_overwritten(there)}: choose another folder, or allow it with "
            "--overwrite (overwrite=True in a script)"
        )


def would_be_overwritten(there: Iterable[Path]) -> str:
    """Return the beginning of a refusal: which file is there, and how many more."""
    first, *others = there
    more = f" and {len(others)} more" if others else ""
    return f"{first}{more} would be overwritten"


def settle(folder: Path) -> None:
    """Put right what a run was stopped in the middle of, before a folder is read.

    Raises
    ------
    OutputError
        If it cannot be put right.
    """
    end = time.monotonic() + LONGEST_SECONDS
    while (folder / REPLACING).exists():
        try:
            with held(folder):
                return
        except InUseError:
            if time.monotonic() > end:
                raise
            time.sleep(0.05)


def _put_in_place(folder: Path, fresh: Path, gone: Iterable[str]) -> None:
    """Bring new files out of their folder into the one around it, or leave all as it was."""
    new = sorted(name for name in os.listdir(fresh / NEW) if not name.startswith("."))
    leaving = sorted(set(gone) - set(new))
    before = [name for name in (*new, *leaving) if os.path.lexists(folder / name)]
    change = _Change(new, leaving, before)
    _write(fresh / LIST, json.dumps(asdict(change)))
    _write(fresh / NOTE, NOTE_TEXT)
    for path in (fresh / NEW, fresh):
        _flush(path)
    os.rename(fresh, folder / REPLACING)
    try:
        _flush(folder)
        _go_on(folder, change)
    except BaseException:
        _go_back(folder, change)
        raise
    _clear(folder)


def _settle(folder: Path) -> None:
    """Put in place what is complete, clear away what is not; the folder is held."""
    if (folder / REPLACING).exists():
        change = _change(folder)
        try:
            _go_on(folder, change)
        except OSError:
            _go_back(folder, change)
        _clear(folder)
    for path in folder.glob(f"{UNFINISHED}*"):
        shutil.rmtree(path, ignore_errors=True)


def _go_on(folder: Path, change: _Change) -> None:
    """Put in place what is not yet: every move is one that can be taken back."""
    place = folder / REPLACING
    for name in (*change.new, *change.gone):
        is_left = name in change.gone or (place / NEW / name).exists()
        if is_left and os.path.lexists(folder / name):
            if (folder / name).is_dir():
                raise IsADirectoryError(0, f"{name} is a folder, not a file")
            os.rename(folder / name, place / OLD / name)
        if (place / NEW / name).exists():
            os.rename(place / NEW / name, folder / name)
    _flush(folder)


def _go_back(folder: Path, change: _Change) -> None:
    """Put back what was there before."""
    place = folder / REPLACING
    try:
        for name in (*change.new, *change.gone):
            was_there, is_moved = name in change.before, os.path.lexists(place / OLD / name)
            is_new = name in change.new and not (place / NEW / name).exists()
            if is_new and (is_moved or not was_there) and os.path.lexists(folder / name):
                os.rename(folder / name, place / NEW / name)
            if is_moved:
                os.rename(place / OLD / name, folder / name)
    except OSError as error:
        raise OutputError(
            f"{folder} is half replaced, and can be put right neither way now "
            f"({error.strerror or error}): do not cut from it; see to the disk and its "
            "permissions, and run any command on the folder again"
        ) from error
    _clear(folder)


def _clear(folder: Path) -> None:
    """Take away what is of no use any more, by a name that says so first."""
    done = folder / f"{UNFINISHED}{time.time_ns():x}"
    with contextlib.suppress(OSError):
        os.rename(folder / REPLACING, done)
        shutil.rmtree(done, ignore_errors=True)


def _change(folder: Path) -> _Change:
    path = folder / REPLACING / LIST
    try:
        change = _Change(**json.loads(plain_bytes(path, LONGEST_LIST)))
        if not all(map(_is_own, (change.new, change.gone, change.before))):
            raise ValueError("not names of files in this folder")
        return change
    except (*_NO_LIST, ValueError, TypeError, RecursionError) as error:
        raise OutputError(
            f"{folder / REPLACING} is none of ours, and of a name that is needed here: move it"
        ) from error


_NO_LIST = (FileNotFoundError, NotADirectoryError, IsADirectoryError)
"""What the system says where somebody else's folder has the name."""


def _is_own(names: object) -> bool:
    """Return whether something is a list of names of files in one folder, none of them hidden.

    A list that somebody else wrote could name files anywhere, and have them moved or taken away.
    """
    return isinstance(names, list) and all(
        isinstance(name, str)
        and name == os.path.basename(name)
        and "\\" not in name
        and not name.startswith((".", REPLACING))
        and name != ""
        for name in names
    )


def _write(path: Path, text: str) -> None:
    with path.open("w", encoding="utf-8") as stream:
        stream.write(text)
        stream.flush()
        os.fsync(stream.fileno())


def _flush(folder: Path) -> None:
    """Have the names in a folder on disk, where the system has a way to ask for it."""
    if not hasattr(os, "O_DIRECTORY"):
        return
    handle = os.open(folder, os.O_RDONLY | os.O_DIRECTORY)
    try:
        os.fsync(handle)
    finally:
        os.close(handle)


@contextmanager
def _told(folder: Path) -> Iterator[None]:
    """Say in words what the system cannot do, by the places that people know."""
    try:
        yield
    except OutputError as error:
        raise type(error)(_plain(str(error), folder)) from error
    except SalvageNestError:
        raise
    except OSError as error:
        raise OutputError(
            f"{folder} cannot be written ({error.strerror or error}): what was in it is as it "
            "was; make room, or choose another folder"
        ) from error


def _plain(text: str, folder: Path) -> str:
    """Return a message without the folder that files are in for the time being."""
    passing = re.escape(os.path.join(str(folder), UNFINISHED)) + r"\w*"
    return re.sub(rf"{passing}(?:{re.escape(os.sep)}{NEW}\b)?", lambda _: str(folder), text)
