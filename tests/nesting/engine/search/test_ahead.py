"""Kernels compiled in other processes while a project is read."""

import subprocess
import sys
from pathlib import Path

import pytest

from nesting.engine.search import ahead as module
from nesting.engine.search.ahead import Ahead, compiled_ahead

ROOT = Path(__file__).parents[4]

SIGNATURES = """
import sys
from numba.core.dispatcher import Dispatcher

def signatures():
    engine = [m for name, m in sys.modules.items() if name.startswith("nesting.engine")]
    kernels = {k for m in engine for k in vars(m).values() if isinstance(k, Dispatcher)}
    # Those inside others show only in the process that compiles them, not where they are loaded.
    kernels = {k for k in kernels if not k.targetoptions.get("no_cpython_wrapper")}
    return {f"{k.py_func.__name__} {signature}" for k in kernels for signature in k.signatures}

def first_plan():
    from nesting.project import read_project
    project = read_project("demo_projects/first_cut/project.yaml")
    planned(project.needs, project.stock, project.rules, 0)

def search():
    from nesting.need import Need, Holes
    from nesting.outline import Outline
    from nesting.rules import Rules
    from nesting.stock.board import Board
    from nesting.stock.keep_out import KeepOutKind, circle
    from shapely.geometry import box
    arms = box(0, 30, 90, 60).union(box(30, 0, 60, 90))
    outline = Outline(arms, 20, slope_of_grain=4)
    flaws = (circle(KeepOutKind.METAL, 300, 5, 4), circle(KeepOutKind.HOLE, 600, 50, 6))
    boards = [Board("A", box(0, 0, 1000, 100), 30, "oak", keep_outs=flaws)]
    planned([Need("P", "any", outline, ("oak",), 12, Holes.PLUGGED)], boards, Rules(), 40)

def planned(needs, boards, rules, rounds):
    from nesting.engine.pack import pack
    from nesting.engine.stop import MaxRounds
    pack(needs, boards, rules, stop=MaxRounds(rounds), seed=1)
"""


FILLING = {"room_on", "next_places", "advance"}
"""Doors of the kernels that fill boards on lines: lanes compile those."""


def compiled_anew(ahead, search):
    """Return the kernels that some search compiles though others were compiled ahead of it."""
    code = (
        f"{SIGNATURES}\nfrom nesting.engine.search.ahead import *\n{ahead}\nbefore = signatures()\n"
    )
    code += f"{search}\nprint(*sorted(signatures() - before), sep='\\n')"
    run = subprocess.run(
        [sys.executable, "-c", code],
        cwd=ROOT, capture_output=True, text=True, timeout=600, check=True,
    )  # fmt: skip
    return run.stdout.strip()


def test_first_plan_compiles_no_more_than_what_is_compiled_for_it():
    assert compiled_anew("compile_lines_and_spots(); compile_sums()", "first_plan()") == ""


def test_search_compiles_no_more_than_what_is_compiled_beside_the_first_plan():
    rest = "compile_lines_and_spots(); compile_sums(); compile_crowding()"
    found = compiled_anew(rest, "first_plan(); search()").splitlines()
    assert {line.partition(" ")[0] for line in found} <= FILLING


def started(monkeypatch, on_disk, seconds_left=None):
    begun = []
    monkeypatch.setattr(module, "is_on_disk", lambda kernel: kernel.__name__ in on_disk)
    monkeypatch.setattr(module, "is_compiled", lambda: "jostle" in on_disk)
    monkeypatch.setattr(Ahead, "_start", lambda _, work: begun.append(work.__name__))
    ahead = Ahead()
    ahead.start_first()
    ahead.start_crowding(seconds_left)
    return begun


FIRST = [
    "crossings",
    "cores",
    "standing",
    "lowest_spots",
    "all_sums",
    "exposed",
    "may_lie",
    "may_fit",
]


@pytest.mark.parametrize(
    ("on_disk", "seconds_left", "begun"),
    [
        ([], 30.0, ["compile_lines_and_spots", "compile_sums"]),
        (FIRST[:-1], 30.0, ["compile_sums"]),
        (FIRST, 300.0, ["compile_crowding"]),
        ([*FIRST, "jostle"], 300.0, []),
        (FIRST, module.LONG_RUN, []),
        (FIRST, None, []),
    ],
    ids=["nothing there", "one missing", "a long run", "all there", "a run too short", "rounds"],
)
def test_only_what_is_missing_and_worth_it_is_compiled(monkeypatch, on_disk, seconds_left, begun):
    assert started(monkeypatch, on_disk, seconds_left) == begun


@pytest.mark.parametrize(
    ("on_disk", "compiled"),
    [
        (FIRST, []),
        (FIRST[:3], ["compile_lines_and_spots", "compile_sums"]),
        (FIRST[:4], ["compile_sums"]),
        (FIRST[4:], ["compile_lines_and_spots"]),
    ],
    ids=["all there", "four missing and one", "sums missing", "lines and spots missing"],
)
def test_one_process_compiles_what_is_missing(monkeypatch, on_disk, compiled):
    done = []
    monkeypatch.setattr(module, "is_on_disk", lambda kernel: kernel.__name__ in on_disk)
    for name in ("compile_lines_and_spots", "compile_sums"):
        monkeypatch.setattr(module, name, lambda name=name: done.append(name))
    module.compile_here()
    assert done == compiled


@pytest.mark.parametrize(("processors", "begun"), [(1, 0), (None, 0), (2, 1)])
def test_nothing_is_compiled_beside_the_only_processor(monkeypatch, processors, begun):
    asked, noted = [], []
    monkeypatch.setattr(module.os, "cpu_count", lambda: processors)
    monkeypatch.setattr(Ahead, "start_first", lambda _: asked.append(1))
    monkeypatch.setattr(module, "note_on_disk", lambda *kernels: noted.extend(kernels))
    with compiled_ahead():
        assert len(asked) == begun
        assert noted == []
    assert {kernel.__name__ for kernel in noted} >= set(FIRST)


def test_kernels_compiled_from_an_older_source_count_as_missing(tmp_path, monkeypatch):
    source = tmp_path / "some.py"
    source.write_text("from numba import njit\n@njit(cache=True)\ndef one():\n    return 1\n")
    code = (
        f"import os, sys; sys.path[:0] = ['.', {str(ROOT)!r}]; import some\n"
        "from nesting.engine.geometry.compiled import is_on_disk, note_on_disk\n"
        "note_on_disk(some.one); print(is_on_disk(some.one))\n"
        "some.one(); note_on_disk(some.one); print(is_on_disk(some.one))\n"
        "os.utime('some.py', (4e9, 4e9)); print(is_on_disk(some.one))"
    )
    monkeypatch.setenv("NUMBA_CACHE_DIR", str(tmp_path / "kernels"))
    run = subprocess.run(
        [sys.executable, "-c", code], cwd=tmp_path, capture_output=True, text=True, check=True
    )
    assert run.stdout.split() == ["False", "True", "False"]


def endless():
    while True:
        pass


def test_processes_that_compile_end_with_the_search():
    with compiled_ahead() as ahead:
        ahead._start(endless)
        assert ahead.is_busy
    assert not ahead.is_busy


def test_waiting_ends_when_compiling_fails(capfd):
    with compiled_ahead() as ahead:
        ahead._start(failing)
        ahead.wait()
        assert not ahead.is_busy
    assert "no disk" in capfd.readouterr().err


def failing():
    raise OSError("no disk")
