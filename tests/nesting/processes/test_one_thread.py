"""Words of the book start no threads that wait busily for matrices."""

from __future__ import annotations

import os
import subprocess
import sys

import pytest

TELL = """
import os, sys
import nesting.commands.book as word
try:
    word.book(type("Given", (), {"why": "", "word": "none", "book": None})())
except Exception:
    pass
import numpy
print(len(os.listdir("/proc/self/task")), os.environ["OPENBLAS_NUM_THREADS"])
"""


@pytest.mark.skipif(sys.platform != "linux", reason="threads are counted in /proc")
def test_word_of_the_book_runs_in_one_thread():
    about = {name: value for name, value in os.environ.items() if "_NUM_THREADS" not in name}
    done = subprocess.run(
        [sys.executable, "-c", TELL], capture_output=True, text=True, check=True, env=about
    )
    assert done.stdout.split() == ["1", "1"]


def test_what_the_user_says_of_threads_holds():
    about = {**os.environ, "OPENBLAS_NUM_THREADS": "2"}
    done = subprocess.run(
        [sys.executable, "-c", TELL], capture_output=True, text=True, check=True, env=about
    )
    assert done.stdout.split()[-1] == "2"
