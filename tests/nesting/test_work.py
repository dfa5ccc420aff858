import io
import threading

from rich.console import Console

from nesting.console import live_work
from nesting.work import Step, plain_lines


def test_plain_lines_tell_the_latest_step_while_the_work_goes_on():
    said, was_said = list[str](), threading.Event()

    def write(text):
        said.append(text)
        was_said.set()

    times = iter([100.0, *[112.0] * 1000])
    with plain_lines(write, every_s=0.01, clock=lambda: next(times)) as tell:
        tell(Step("writing cut sheets", 1, 40))
        tell(Step("writing cut sheets", 2, 40))
        assert was_said.wait(20)
    assert said[-1] == "writing cut sheets, 2 of 40 (12 s)"


def test_work_that_is_soon_over_says_nothing():
    said = []
    with plain_lines(said.append, every_s=60) as tell:
        tell(Step("writing cut sheets", 1, 2))
    assert said == []


def test_a_terminal_shows_the_step_on_a_live_line():
    out = io.StringIO()
    with live_work(Console(file=out, force_terminal=True, width=80), is_shown=True) as tell:
        tell(Step("making the solid of [knee]", 3, 9))
    assert "making the solid of [knee], 3 of 9" in out.getvalue()


def test_progress_that_is_not_wanted_is_not_shown():
    out = io.StringIO()
    with live_work(Console(file=out, force_terminal=True), is_shown=False) as tell:
        tell(Step("anything"))
    assert out.getvalue() == ""
