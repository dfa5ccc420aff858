"""A kernel is compiled by one process, however many come to it at once."""

import fcntl
import subprocess
import sys

import pytest

from nesting.engine.geometry import compiled

KERNEL = """\
from nesting.engine.geometry.compiled import door, inner

@inner
def twice(number):
    return 2 * number

@door
def thrice(number):
    return number + twice(number)
"""

USED = """\
import sys
sys.path.insert(0, sys.argv[1])
import kernels_of_a_test as kernels
sys.stdin.readline()
assert kernels.thrice(2) == 6
print(*(sum(one.stats.cache_misses.values()) for one in (kernels.twice, kernels.thrice)))
"""


@pytest.fixture
def folder(tmp_path):
    (tmp_path / "kernels_of_a_test.py").write_text(KERNEL, encoding="utf-8")
    return tmp_path


def test_of_processes_that_start_together_one_compiles(folder):
    running = [
        subprocess.Popen(
            [sys.executable, "-c", USED, str(folder)],
            stdin=subprocess.PIPE, stdout=subprocess.PIPE, text=True,
        )
        for _ in range(3)
    ]  # fmt: skip
    for process in running:
        process.stdin.write("now\n")
        process.stdin.flush()
    misses = [tuple(map(int, process.communicate()[0].split())) for process in running]
    # A kernel that is found whole needs nothing of what it calls.
    assert sorted(misses) == [(0, 0), (0, 0), (1, 1)]


def test_one_that_is_held_up_is_not_waited_for(folder, monkeypatch):
    monkeypatch.syspath_prepend(folder)
    monkeypatch.setattr(compiled, "MOST_WAITING", 0.1)
    import kernels_of_a_test as kernels

    place = folder / "__pycache__" / "kernels_of_a_test.thrice.lock"
    place.parent.mkdir(exist_ok=True)
    with place.open("w") as file:
        fcntl.flock(file, fcntl.LOCK_EX)
        assert kernels.thrice(3) == 9


def test_where_nothing_can_be_locked_it_is_compiled(folder, monkeypatch):
    monkeypatch.syspath_prepend(folder)
    monkeypatch.delitem(sys.modules, "kernels_of_a_test", raising=False)
    import kernels_of_a_test as kernels

    monkeypatch.setattr(compiled, "_lock_of", lambda _: folder / "kernels_of_a_test.py" / "lock")
    assert kernels.thrice(4) == 12
