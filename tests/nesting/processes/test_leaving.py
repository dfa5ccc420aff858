"""How a program ends: what it said is out, what is registered is done, nothing is taken apart."""

from __future__ import annotations

import subprocess
import sys

import pytest


def ended(text):
    """Return what came of a program of its own."""
    return subprocess.run(
        [sys.executable, "-c", text], capture_output=True, text=True, check=False, timeout=60
    )


@pytest.mark.parametrize("code", [0, 4, 130])
def test_program_leaves_with_its_code_and_all_that_it_said(code):
    done = ended(
        "import sys; from nesting.processes.leaving import leave\n"
        f"sys.stdout.write('so far'); sys.stderr.write('odd'); leave({code})"
    )
    assert (done.returncode, done.stdout, done.stderr) == (code, "so far", "odd")


def test_what_is_registered_for_the_end_is_done_before():
    done = ended(
        "import atexit; from nesting.processes.leaving import leave\n"
        "atexit.register(print, 'cleared'); leave(0)"
    )
    assert done.stdout == "cleared\n"


def test_nothing_is_taken_apart():
    done = ended(
        "from nesting.processes.leaving import leave\n"
        "class Told:\n"
        "    def __del__(self): print('taken apart', flush=True)\n"
        "kept = Told(); leave(0)"
    )
    assert (done.returncode, done.stdout) == (0, "")


def test_program_whose_reader_is_gone_leaves_with_its_code():
    done = ended(
        "import os, sys; from nesting.processes.leaving import leave\n"
        "reads, writes = os.pipe(); os.dup2(writes, 1); os.close(reads); os.close(writes)\n"
        "sys.stdout = os.fdopen(1, 'w', closefd=False); sys.stdout.write('to nobody'); leave(5)"
    )
    assert (done.returncode, done.stderr) == (5, "")
