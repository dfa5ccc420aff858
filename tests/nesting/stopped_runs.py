"""Whole runs in a terminal of their own, stopped from outside at some moment."""

import atexit
import contextlib
import json
import os
import pty
import select
import signal
import subprocess
import sys
import threading
import time
import traceback
from collections.abc import Sequence
from dataclasses import dataclass, field
from pathlib import Path

from faults import content, forked

from nesting.folders.whole_folder import held, settle
from nesting.project import read_project
from nesting.read_back.remeasure import remeasured

ROOT = Path(__file__).parents[2]

PLAN_SHOWN = "placed, value"
"""What the live line shows from the first plan on."""

WRITING_SHOWN = "measuring the plan again", "writing cut sheets", "drawing the overview"


class Terminal:
    """A terminal of which everything that is shown on it is kept."""

    def __init__(self):
        self.screen, self.end = pty.openpty()
        self.said = ""
        self.is_closed = False
        self._reader = threading.Thread(target=self._read, daemon=True)

    def begin(self):
        os.close(self.end)
        self._reader.start()

    def _read(self):
        with contextlib.suppress(OSError):
            while not self.is_closed:
                if select.select([self.screen], [], [], 0.02)[0]:
                    self.said += os.read(self.screen, 4096).decode(errors="replace")
        os.close(self.screen)

    def close(self):
        """Close it as one closes a window."""
        self.is_closed = True
        self._reader.join(5)


@dataclass
class Run:
    """One run: how it ended, what it showed before it was stopped and in all, what it left."""

    code: int
    shown: str
    said: str
    out: str
    left: list[str]
    seconds: float
    after: float = 0.0
    faults: list[str] = field(default_factory=list)


def command(project: Path, folder: Path, *more: str) -> list[str]:
    return [
        sys.executable, "-m", "nesting", "nest", str(project), "-o", str(folder), "--overwrite",
        *more,
    ]  # fmt: skip


def members(session: int) -> list[int]:
    """Return the processes of a session that still run."""
    found = []
    for path in Path("/proc").glob("[0-9]*/stat"):
        with contextlib.suppress(OSError):
            words = path.read_text().rpartition(")")[2].split()
            if int(words[3]) == session and words[0] != "Z":
                found.append(int(path.parent.name))
    return found


class Copy:
    """A run in a copy of this process, which has all modules and kernels: it begins at once."""

    def __init__(self, arguments, stderr):
        self.returncode = None
        out, end = os.pipe()
        self.pid = forked()
        if not self.pid:
            try:
                os.setsid()
                as_from_a_terminal()
                signal.signal(signal.SIGINT, signal.default_int_handler)
                os.dup2(end, 1)
                os.dup2(stderr, 2)
                os.closerange(3, 200)
                _as_a_program(arguments)
            finally:
                os._exit(99)
        os.close(end)
        self._out = os.fdopen(out)
        self._said = []
        self._reader = threading.Thread(target=lambda: self._said.append(self._out.read()))
        self._reader.start()

    def __enter__(self):
        return self

    def __exit__(self, *_):
        self._reader.join(5)
        self._out.close()

    def poll(self):
        if self.returncode is None:
            pid, status = os.waitpid(self.pid, os.WNOHANG)
            if pid:
                self.returncode = os.waitstatus_to_exitcode(status)
        return self.returncode

    def communicate(self, timeout):
        end = time.monotonic() + timeout
        while self.poll() is None:
            if time.monotonic() > end:
                raise subprocess.TimeoutExpired("a copy", timeout)
            time.sleep(0.005)
        self._reader.join(5)
        return "".join(self._said), ""


def _as_a_program(arguments):
    """Do what the interpreter does with such arguments, and end this process."""
    from nesting.__main__ import run

    atexit._clear()  # What the tests have registered is theirs.

    os.chdir(ROOT)
    os.environ |= {"TERM": "xterm", "COLUMNS": "200"}
    sys.argv = ["salvage-nest", *arguments[3:]]
    sys.stdout = os.fdopen(1, "w", closefd=False)
    sys.stderr = os.fdopen(2, "w", 1, closefd=False)
    code = 1
    try:
        run()
    except SystemExit as leaving:
        code = leaving.code
    except BaseException:
        traceback.print_exc()
    sys.stdout.flush()
    os._exit(code or 0)


def as_from_a_terminal():
    """Ignore no signal: what starts the tests behind a shell's back may have them ignored."""
    for number in (signal.SIGINT, signal.SIGHUP, signal.SIGTERM):
        signal.signal(number, signal.SIG_DFL)


def begun_anew(arguments, stderr):
    return subprocess.Popen(
        arguments, stdout=subprocess.PIPE, stderr=stderr, text=True, cwd=ROOT,
        start_new_session=True, env=os.environ | {"TERM": "xterm", "COLUMNS": "200"},
        preexec_fn=as_from_a_terminal,
    )  # fmt: skip


def stopped(
    arguments: Sequence[str],
    stops: Sequence[tuple[float | str, int, str]],
    timeout: float = 60,
    begin=begun_anew,
) -> Run:
    """Run a command and send it signals.

    Each stop is a moment (seconds from the beginning, or below 0 from the stop before; or words to
    wait for on the terminal), a signal, and whom it goes to: ``main``, ``group``, ``worker``, or
    ``terminal``: that is closed, and the signal goes to the main process.
    """
    terminal, begun, shown = Terminal(), time.monotonic(), ""
    with begin(arguments, terminal.end) as running:
        terminal.begin()
        for moment, number, whom in stops:
            if not isinstance(moment, str) and moment < 0:
                moment = time.monotonic() - begun - moment
            _wait(moment, begun, terminal, running)
            shown = terminal.said
            if whom == "terminal":
                terminal.close()
            _send(number, whom, running)
        asked = time.monotonic()
        try:
            out, _ = running.communicate(timeout=timeout)
        except subprocess.TimeoutExpired:
            os.killpg(running.pid, signal.SIGKILL)
            raise
    ended = time.monotonic()
    while members(running.pid) and time.monotonic() < ended + 10:
        time.sleep(0.02)
    left = [f"process {number}" for number in members(running.pid)]
    time.sleep(0.05)  # What was shown last is still on its way.
    terminal.close()
    run = Run(running.returncode, shown, terminal.said, out, left, ended - begun, ended - asked)
    if run.left:
        run.faults.append(f"still run: {run.left}")
    if "Traceback" in run.said + run.out:
        run.faults.append(f"a traceback: {run.said[-3000:]} {run.out[-3000:]}")
    return run


def _wait(moment, begun, terminal, running):
    while running.poll() is None:
        now = time.monotonic() - begun
        if (moment in terminal.said) if isinstance(moment, str) else now >= moment:
            return
        time.sleep(0.005)


def _send(number, whom, running):
    with contextlib.suppress(ProcessLookupError):
        if whom in ("main", "terminal") and running.poll() is None:
            os.kill(running.pid, number)
        elif whom == "group":
            os.killpg(running.pid, number)
        elif whom == "worker":
            for worker in _workers(running.pid)[:1]:
                os.kill(worker, number)


def _workers(session):
    """Return the processes that work for the first one of a session."""
    found = []
    for number in members(session):
        with contextlib.suppress(OSError):
            line = Path(f"/proc/{number}/cmdline").read_bytes()
            if number != session and b"spawn_main" in line:
                found.append(number)
    return found


def judged(run: Run, project: Path, folder: Path, old: dict[str, bytes]) -> str:
    """Return ``old`` or ``new``, what a folder holds; else note what is wrong with it."""
    settle(folder)
    with held(folder):
        pass
    now = content(folder)
    if now == old:
        return "old"
    try:
        count, faults = remeasured(read_project(project), folder)
        run.faults += [str(fault) for fault in faults]
        sheets = {name for name in now if name.startswith("board-")}
        made = set(json.loads(now["summary.json"])["made"])
        others = set(now) - sheets - made - {"overview.dxf", "summary.json"}
        own = {name for name in old if name.startswith("my ")}
        if len(sheets) != count or others != own or any(now[n] != old[n] for n in own & set(now)):
            run.faults.append(f"not what one run writes: {sorted(now)}")
    except Exception as error:
        run.faults.append(f"mixed, or half: {error!r}")
    return "new"


def expected(run: Run, outcome: str, numbers: Sequence[int]) -> None:
    """Note where a run that was stopped by signals lost a plan or does not say what it did."""
    by_force = signal.SIGKILL in numbers
    has_plan = PLAN_SHOWN in run.shown or any(words in run.shown for words in WRITING_SHOWN)
    asked = [number for number in numbers if number != signal.SIGKILL]
    if by_force:
        return
    allowed = {0, *(128 + number for number in asked), *(-number for number in asked)}
    if run.code not in allowed:
        run.faults.append(f"ended with {run.code}")
    if has_plan and len(asked) < 2 and outcome != "new":
        run.faults.append("the plan is lost")
    is_seen = signal.SIGHUP not in numbers
    if outcome == "new" and run.code > 128 and is_seen and "stopped by" not in run.said:
        run.faults.append("nothing is said of being stopped")
    said_kept = "nothing was written" in run.said or "is as it was" in run.said.split("note:")[0]
    if outcome == "old" and run.code > 128 and "stopped by" not in run.said:
        run.faults.append("nothing is said of being stopped")
    if outcome == "new" and said_kept:
        run.faults.append("says that nothing was written")
