"""How large the page is, how soon it is made and drawn, how smoothly it is moved.

    python tests/bench/bench_page.py PROJECT.yaml FOLDER

FOLDER holds the summary of a plan of that project. The page is made of it, opened in headless
Chromium (``--no-sandbox``, software rendering), and its fullest board is dragged about for some
seconds; what is longer than 50 ms is counted as the performance interface tells it.
"""

from __future__ import annotations

import shutil
import sys
import tempfile
import time
from pathlib import Path

from playwright.sync_api import sync_playwright

from nesting.accounts.account import account_for
from nesting.project import read_project
from nesting.shop.folio import Folio
from nesting.shop.page import made
from nesting.summary.file import read_summary
from nesting.summary.read_plan import plan_from

DRAGS = 240

FIRST_DRAW = """() => new Promise(done => requestAnimationFrame(() =>
  requestAnimationFrame(() => done(
  [performance.getEntriesByName('first-contentful-paint')[0]?.startTime,
   document.querySelectorAll('#rack .piece').length, performance.now()]))))"""

WATCH = """() => { window.frames_ms = []; window.long_ms = []
  new PerformanceObserver(list => list.getEntries().forEach(e => long_ms.push(e.duration)))
    .observe({ type: 'longtask' })
  let last = performance.now()
  const next = now => { frames_ms.push(now - last); last = now; requestAnimationFrame(next) }
  requestAnimationFrame(next) }"""


def main(project_file: str, folder: str) -> None:
    """Print the figures."""
    project = read_project(Path(project_file))
    plan, files = plan_from(read_summary(Path(folder)), project.needs, project.stock)
    account = account_for(plan, project.rules, workers=1)
    begun = time.process_time()
    ((_, content),) = made(Folio(project, plan, account, files))
    print(
        f"made in {time.process_time() - begun:.2f} s of processor time, "
        f"{len(content) / 1e6:.2f} MB"
    )
    with tempfile.TemporaryDirectory() as place, sync_playwright() as playwright:
        path = Path(place) / "page.html"
        path.write_bytes(content)
        browser = playwright.chromium.launch(
            executable_path=shutil.which("chromium"), args=["--no-sandbox"]
        )
        tab = browser.new_page(viewport={"width": 1280, "height": 900})
        tab.goto(path.as_uri())
        paint, pieces, now = tab.evaluate(FIRST_DRAW)
        print(f"first paint {paint:.0f} ms, {pieces} pieces drawn by {now:.0f} ms")
        fullest = tab.evaluate(
            """() => plan.boards.map((b, k) => [b.keepOuts.length + b.pieces.length, k])
            .sort((a, b) => b[0] - a[0])[0]"""
        )
        tab.evaluate("k => { location.hash = `board-${k}` }", fullest[1])
        _drag(tab, f"dragging a board with {fullest[0]} things on it")
        tab.evaluate("location.hash = 'boards'")
        tab.wait_for_timeout(300)
        _scroll(tab)
        browser.close()


def _drag(tab: object, what: str) -> None:
    spot = tab.locator("#board-drawing svg").bounding_box()
    x, y = spot["x"] + spot["width"] / 2, spot["y"] + spot["height"] / 2
    tab.wait_for_timeout(500)
    tab.mouse.move(x, y)
    tab.mouse.wheel(0, -400)
    tab.wait_for_timeout(300)
    tab.evaluate(WATCH)
    tab.mouse.down()
    for step in range(DRAGS):
        tab.mouse.move(x + 150 * ((step % 60) / 30 - 1), y + 20 * ((step % 20) / 10 - 1))
    tab.mouse.up()
    _told(tab, what)


def _scroll(tab: object) -> None:
    tab.evaluate(WATCH)
    for _ in range(60):
        tab.mouse.wheel(0, 120)
        tab.wait_for_timeout(16)
    _told(tab, "scrolling the rack")


def _told(tab: object, what: str) -> None:
    frames, long = tab.evaluate("[frames_ms, long_ms]")
    frames = sorted(frames[1:])
    print(
        f"{what}: {len(frames)} frames, the middle one "
        f"{frames[len(frames) // 2]:.0f} ms, the longest "
        f"{frames[-1]:.0f} ms; tasks over 50 ms: {len(long)}"
    )


if __name__ == "__main__":
    main(*sys.argv[1:])
