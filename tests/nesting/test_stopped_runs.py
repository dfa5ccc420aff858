"""Runs that are stopped: the files of before, whole, or those of this run, whole; nobody is left.

``STOP_MOMENTS=200`` tries as many moments, spread over the whole of a run; the gate a few.
"""

import itertools
import os
import re
import shutil
import signal
import subprocess
from pathlib import Path

import pytest
from faults import content
from stopped_runs import Copy, begun_anew, command, expected, judged, stopped

from nesting import cli

MOMENTS = int(os.environ.get("STOP_MOMENTS", "0"))

KINDS = [
    (signal.SIGKILL, "main"), (signal.SIGTERM, "main"), (signal.SIGINT, "group"),
    (signal.SIGHUP, "main"), (signal.SIGINT, "main"), (signal.SIGTERM, "group"),
    (signal.SIGHUP, "group"), (signal.SIGKILL, "worker"),
]  # fmt: skip

FEW = [
    ("reading the project", signal.SIGTERM, "group", begun_anew),
    ("making the first plan", signal.SIGINT, "group", begun_anew),
    ("placed, value", signal.SIGHUP, "terminal", Copy),
    ("writing cut sheets", signal.SIGKILL, "main", Copy),
]

PROJECT = """\
version: 1
name: Stopped
unit: mm
stock:
  - {board: A, species: teak, thickness: 30, length: 1400, width: 150}
  - {board: B, species: teak, thickness: 30, length: 1100, width: 140}
parts:
  - {part: strake, family: ceiling strake, species: teak, quantity: 3,
     shape: {length: 520, width: 62, thickness: 22, frame_spacing: 250}}
  - {part: rail, family: ceiling strake, species: teak, quantity: 2,
     shape: {length: 610, width: 71, thickness: 22, frame_spacing: 250}}
  - part: taper
    family: plank
    species: teak
    quantity: 2
    shape: {length: 430, widths: [[0, 30], [200, 60], [430, 40]], straight: lower edge,
            thickness: 22}
"""


@pytest.fixture(scope="module")
def before(tmp_path_factory):
    """A project, and a folder with an earlier plan of it and a file of the user's own."""
    place = tmp_path_factory.mktemp("stopped")
    path = place / "project.yaml"
    path.write_text(PROJECT)
    # Of another seed, which the summary tells: no later plan can be equal to it.
    arguments = ["nest", str(path), "-o", str(place / "old"), "--rounds", "0", "--seed", "7", "-q"]
    assert cli.main(arguments) == 0
    (place / "old" / "my notes.txt").write_text("my own")
    return path, place / "old"


def tried(path, old, folder, stops, *more, begin=begun_anew):
    """Return how a run ended that was stopped, and which files are there: nothing may be wrong."""
    shutil.copytree(old, folder)
    kept = content(old)
    run = stopped(command(path, folder, *more), stops, begin=begin)
    outcome = judged(run, path, folder, kept)
    expected(run, outcome, [number for _, number, whom in stops if whom != "worker"])
    shutil.rmtree(folder)
    assert not run.faults, (stops, outcome, run)
    return run, outcome


@pytest.mark.parametrize("stop", FEW, ids=lambda stop: f"{stop[0]}, {signal.Signals(stop[1]).name}")
def test_run_that_is_stopped_loses_nothing(before, tmp_path, stop):
    *stop, begin = stop
    workers = "1" if begin is Copy else "2"
    more = ("--seconds", "0.2" if "sheets" in stop[0] else "60", "--workers", workers)
    run, outcome = tried(*before, tmp_path / "out", [stop], *more, begin=begin)
    is_kept = stop[1] != signal.SIGKILL and stop[0] not in (FEW[0][0], FEW[1][0])
    killed = -9 if stop[1] == signal.SIGKILL else 128 + stop[1]
    if "sheets" in stop[0]:  # They are written in an instant: it may come after, or after all.
        assert (outcome, run.code) in (("old", killed), ("new", killed), ("new", 0))
    else:
        assert (outcome, run.code) == ("new" if is_kept else "old", killed)
    assert run.after < 30


def test_second_signal_leaves_the_folder_as_it_was_or_comes_too_late(before, tmp_path):
    stops = [
        ("placed, value", signal.SIGINT, "main"), (-0.3, signal.SIGINT, "main"),
    ]  # fmt: skip
    more = ("--seconds", "60", "--workers", "1")
    run, outcome = tried(*before, tmp_path / "out", stops, *more, begin=Copy)
    # In its very last moments a signal ends it as it ends any program, without a word.
    assert run.code in (130, -signal.SIGINT)
    # Where it came too late the plan is written, and nothing says otherwise.
    is_as_it_was = "what was in the folder is as it was" in run.said
    assert outcome == ("old" if is_as_it_was else "new")


def test_killed_search_process_and_then_a_signal_while_it_is_written(before, tmp_path):
    stops = [
        ("placed, value", signal.SIGKILL, "worker"), ("writing cut", signal.SIGTERM, "main"),
    ]  # fmt: skip
    run, outcome = tried(*before, tmp_path / "out", stops, "--seconds", "1", "--workers", "2")
    assert outcome == "new"
    # They are written in an instant: it may come after, or when all is over.
    assert run.code == 0 or run.code == 143
    assert not run.code or re.search("is written whole|after the plan was written", run.said)


@pytest.mark.skipif(not MOMENTS, reason="takes half an hour: STOP_MOMENTS=200")
@pytest.mark.parametrize(
    ("begin", "share", "workers"),
    [(Copy, 1, "1"), (Copy, 4, "2"), (begun_anew, 10, "2")],
    ids=["alone", "with a second process", "from the very beginning"],
)
def test_many_moments(before, tmp_path, begin, share, workers):
    path, old = before
    more = ("--seconds", "1", "--workers", workers)
    cli.main(["nest", str(path), "-o", str(tmp_path / "first"), "-q", *more])
    whole, _ = tried(path, old, tmp_path / "out", [], *more, begin=begin)
    wrong, seen, kinds = [], [f"a run takes {whole.seconds:.1f} s"], itertools.cycle(KINDS)
    told = Path(os.environ.get("STOP_TOLD", str(tmp_path / "told")) + f"-{share}.txt")
    for number in range(MOMENTS // share):
        moment = whole.seconds * (number + 0.5) / (MOMENTS // share)
        stops = [(moment, *next(kinds))]
        if number % 5 == 4 and stops[0][1] != signal.SIGKILL:
            stops.append((-0.6, *stops[0][1:]))
        try:
            run, outcome = tried(path, old, tmp_path / f"out-{number}", stops, *more, begin=begin)
            seen.append(f"{stops}: {run.code}, {outcome}, after {run.after:.1f} s")
        except (AssertionError, subprocess.TimeoutExpired, OSError) as error:
            wrong.append(str(error)[:6000])
        told.write_text("\n".join([*seen, *wrong]))
    assert not wrong, "\n\n".join(wrong)
