"""The page in a browser: what it draws and says, how it is used, whom it shuts out.

In headless Chromium from the system's packages; where there is none, those tests say so and skip.
The HTML is parsed by html5lib as the standard asks, and every view is judged by axe-core.
"""

import json
import re
import shutil
from dataclasses import replace
from pathlib import Path

import cv2
import html5lib
import numpy as np
import pytest
import pytidyhtml5
import shapely
from axe_playwright_python.sync_playwright import Axe
from playwright.sync_api import sync_playwright
from shapely.geometry import Polygon, box

from nesting.accounts.account import Account, account_for
from nesting.break_down.cuts import BreakDown
from nesting.cautions import IN_SHORT
from nesting.front_door.writing import ScriptJob
from nesting.marking.marking_out import base_of
from nesting.marking.tape import Tape
from nesting.need import Misfit, Need
from nesting.nest import CuttingPlan, Nest, Placement, Unplaced
from nesting.outline import Bevel, Mark, MarkKind, Outline
from nesting.project import read_project
from nesting.rates import Measure, Rates, WoodPrice
from nesting.rules import Rules
from nesting.sheets.break_down_lists import cut_rows
from nesting.sheets.cut_sheet import cut_sheet
from nesting.sheets.dxf import write_dxf
from nesting.sheets.lists import parts_table
from nesting.sheets.read_back import read_back
from nesting.shop.folio import Folio, Stand
from nesting.shop.list_rows import plan_lists
from nesting.shop.money import buying_lists
from nesting.shop.page import made, page
from nesting.shop.page_data import plan_data
from nesting.stock.board import Board
from nesting.stock.keep_out import circle, region, slot
from nesting.text_table import TextTable
from nesting.units import Unit
from nesting.written_measures import format_length, taped_length

LINES = Path(__file__).parents[3] / "demo_projects" / "lines" / "withy_offsets.csv"

NASTY = "</script><script>document.title='taken'</script><!--"
IMAGE = '<img src=x onerror="document.title=1">'
TURNED = 'rail \u05e7\u05e8\u05e9\' & "quoted"'
TITLE = "Page \u202etfel ot <b>&amp;"
"""Names of boards and parts hold no marks of direction; a project's own is a script's to choose."""

CHROMIUM = shutil.which("chromium") or shutil.which("chromium-browser")

needs_browser = pytest.mark.skipif(CHROMIUM is None, reason="no Chromium here: apt-get install it")

HASHES = ("boards", "board-0", "board-1", "parts", "part-0", "lists", "wood", "left", "cautions")

AGREE_MM = 0.05


def folio_of(nests, needs, unplaced=(), *, name="Page", boards=None):
    rules, unit = Rules(), Unit.INCH
    job = ScriptJob(name, unit, rules, boards or [n.board for n in nests], needs, "R2010")
    plan = CuttingPlan(tuple(nests), tuple(unplaced))
    sheets = {nest.board.name: f"board-{k}.dxf" for k, nest in enumerate(nests)}
    return Folio(job, plan, account_for(plan, rules, workers=1), sheets)


def bent(length):
    """Return a shape with a curve, a slot in its middle and a corner cut off."""
    x = np.linspace(0, length, 40)
    upper = 80 + 25 * np.sin(np.pi * x / length)
    ring = [*zip(x, 0 * x, strict=True), *zip(x[::-1], upper[::-1], strict=True)]
    return Polygon(ring).difference(box(100, 30, 180, 50))


@pytest.fixture(scope="module")
def hostile():
    """A plan whose names would do harm in a page that lets them."""
    marks = (
        Mark(MarkKind.CENTRELINE, ((250.0, 0.0), (250.0, 105.0)), "centreline"),
        Mark(MarkKind.BOLT, ((40.0, 40.0),), "bolt", 9.5),
    )
    bevels = (Bevel("lower edge", 4.2, 2.0), Bevel("fore end", -7.0, 0.0, 12.0, "lower edge"))
    curved = Outline(bent(500), 25, marks=marks, bevels=bevels)
    first = Need.of(NASTY, curved, ["teak"], quantity=2, holes="plugged", notes=[IMAGE])
    second = Need.of(TURNED, Outline(box(0, 0, 400, 60), 25), ["teak"])
    gone = Need.of(IMAGE, Outline(box(0, 0, 9000, 60), 25), ["oak"])
    holes = [circle("hole", 350, 70, 6), circle("metal", 1000, 30, 8)]
    holes.append(circle("recess", 900, 150, 14))
    flaws = [
        region("rot", [(1300, 120), (1600, 120), (1600, 200)]),
        slot("split", (1700, 100), (1900, 104), 4), circle("knot", 1750, 40, 30),
        region("stain", [(1100, 10), (1200, 10), (1150, 60)]),
        slot("groove", (0, 195), (900, 195), 6),
        slot("worn edge", (1000, 198), (1300, 198), 5),
    ]  # fmt: skip
    boards = [
        Board.rectangle(IMAGE, 2000, 200, 32, "teak", keep_outs=[*holes, *flaws]),
        Board.rectangle("B'\"<b>2</b>", 1500, 150, 30, "teak & <i>oil</i>", came_from=NASTY),
        Board.rectangle("C", 900, 120, 30, "oak"),
    ]
    nests = [
        Nest(boards[0], (Placement(first, 60, 20, 1.5), Placement(first, 1150, 190, 181, True, 2))),
        Nest(boards[1], (Placement(second, 700, 100, 200),)),
    ]
    left = [Unplaced(gone, 1, Misfit.TOO_LONG)]
    return folio_of(nests, [first, second, gone], left, name=TITLE, boards=boards)


@pytest.fixture(scope="module")
def sawn():
    """A board whose parts come free by stopped cuts alone, and one with a pair; half is done."""
    blocks = [
        Need.of(f"block {name}", Outline(box(0, 0, long, wide), 20), ["teak"], value=value)
        for name, long, wide, value in
        (("w", 200, 100, 1), ("e", 100, 200, 9), ("n", 200, 100, 1), ("s", 100, 200, 1))
    ]  # fmt: skip
    at = [(5, 5), (211, 5), (111, 211), (5, 111)]
    teak = Board.rectangle(
        "T-1",
        700,
        400,
        25,
        "teak",
        keep_outs=[circle("metal", 600, 50, 5), circle("hole", 60, 60, 5)],
    )
    wheel = Nest(teak, tuple(Placement(n, *xy) for n, xy in zip(blocks, at, strict=True)))
    corner = Outline(Polygon([(0, 0), (300, 0), (300, 40), (60, 90), (0, 90)]), 20)
    pair = Need("cheek", "knee", corner, ("oak",), 3, hands=("starboard", "port", "midships"),
                mirrored=(False, True, False))  # fmt: skip
    oak = Board.rectangle("O-1", 900, 120, 25, "oak", keep_outs=[circle("metal", 850, 60, 5)])
    halves = Nest(oak, (Placement(pair, 5, 5), Placement(pair, 320, 5, copy=2)))
    left = [Unplaced(pair, 1, Misfit.NO_ROOM)]
    folio = folio_of([wheel, halves], [*blocks, pair], left, name="Sawn")
    rates = Rates("EUR", (WoodPrice("oak", 40, Measure.BOARD_FOOT),), hour=30.0, part_minutes=20.0)
    table = TextTable("Pieces", ("system", "#wanted", "#done"), (("knees", "6", "3"),))
    stand = Stand(("By the stock book: 3 of 6 pieces done.",), table)
    return replace(folio, job=replace(folio.job, rates=rates), stand=stand)


PROJECT = f"""\
version: 1
name: In her
unit: in
boat:
  lines: {LINES}
  frames: {{first: 20, spacing: 10, count: 26, siding: 1, moulding: 1 1/2}}
  keel: {{siding: 4, top: 1 1/2}}
  deck: {{thickness: 3/4}}
  clamp: {{thickness: 1, depth: 6}}
  floor_heads: 9
stock:
  - {{board: D-01, species: teak, thickness: 3, length: 120, width: 40}}
  - {{board: D-02, species: teak, thickness: 3, length: 120, width: 40}}
parts:
  - {{part: floor, family: floor timber, species: teak, at: [frame 12, frame 14],
     shape: {{siding: 1 3/4, moulding: 5, arm: 15, keel_bolt: 1/2, frame_bolt: 5/16}}}}
  - {{part: beam, family: deck beam, species: teak, at: frame 9,
     shape: {{siding: 1 1/2, moulding: 2 1/2, end_moulding: 2}}}}
  - {{part: strake, family: ceiling strake, species: teak, at: frames 12 to 16,
     shape: {{thickness: 5/8, of: 8, strakes: 2}}}}
"""


@pytest.fixture(scope="module")
def afloat(tmp_path_factory):
    """A plan of a boat, its parts laid by hand."""
    path = tmp_path_factory.mktemp("boat") / "boat.yaml"
    path.write_text(PROJECT)
    project = read_project(path)
    nests = []
    for board, needs in zip(project.stock, (project.needs[:2], project.needs[2:3]), strict=True):
        placements, high = [], 5.0
        for need in needs:
            low_x, low_y, _, high_y = need.outline.shape.bounds
            placements.append(Placement(need, 10 - low_x, high - low_y))
            high += high_y - low_y + 20
        nests.append(Nest(board, tuple(placements)))
    left = [Unplaced(need, need.quantity, Misfit.NO_ROOM) for need in project.needs[3:]]
    plan = CuttingPlan(tuple(nests), tuple(left))
    account = account_for(plan, project.rules, workers=1)
    return Folio(project, plan, account, {b.name: f"{b.name}.dxf" for b in project.stock})


@pytest.fixture(scope="module")
def browser():
    with sync_playwright() as playwright:
        started = playwright.chromium.launch(executable_path=CHROMIUM, args=["--no-sandbox"])
        yield started
        started.close()


@pytest.fixture(scope="module")
def half_built(afloat):
    """The same boat when the floor of frame 12 is sawn, and the strakes are left over."""
    first, second = afloat.plan.nests
    needs = afloat.job.needs[1:]
    nests = (replace(first, placements=first.placements[1:]), second)
    plan = replace(afloat.plan, nests=nests)
    account = account_for(plan, afloat.job.rules, workers=1)
    stand = Stand(
        ("By the book.",), TextTable("Pieces", ("system",), ()), {"floor, frame 12": "P-9"}
    )
    return replace(
        afloat, job=replace(afloat.job, needs=needs), plan=plan, account=account, stand=stand
    )


@pytest.fixture(scope="module")
def written(hostile, afloat, sawn, half_built, tmp_path_factory):
    folder = tmp_path_factory.mktemp("pages")
    pages = {"hostile": hostile, "afloat": afloat, "sawn": sawn, "half-built": half_built}
    for name, folio in pages.items():
        ((_, content),) = made(folio)
        (folder / f"{name}.html").write_bytes(content)
    return folder


@pytest.fixture
def opened(browser, written):
    """Open a page at a view, and fail on whatever its scripts fail on."""
    contexts = []

    def open_at(name, view, *, size=(1000, 800), scheme="light", touch=False):
        context = browser.new_context(
            viewport={"width": size[0], "height": size[1]}, color_scheme=scheme, has_touch=touch
        )
        contexts.append(context)
        tab = context.new_page()
        tab.faults, tab.asked = [], []
        tab.on("pageerror", lambda error: tab.faults.append(str(error)))
        tab.on("request", lambda request: tab.asked.append(request.url))
        tab.goto(f"{(written / f'{name}.html').as_uri()}#{view}")
        return tab

    yield open_at
    for context in contexts:
        for tab in context.pages:
            assert not tab.faults
            assert [url for url in tab.asked if not url.startswith("file:")] == []
        context.close()


def go_to(tab, view):
    """Have a page show a view, and wait until its own script has done so."""
    tab.evaluate(
        """view => new Promise(shown => {
          if (location.hash === '#' + view) return shown()
          addEventListener('hashchange', () => shown(), { once: true })
          location.hash = view
        })""",
        view,
    )


# ---- as a file ----------------------------------------------------------------------------------


@pytest.mark.parametrize("which", ["hostile", "afloat", "sawn"])
def test_page_is_html_as_the_standard_asks(written, which):
    text = (written / f"{which}.html").read_text(encoding="utf-8")
    html5lib.HTMLParser(strict=True).parse(text)


def broken_rules(text):
    """Yield where a page breaks a rule of HTML that its grammar does not have.

    WHATWG HTML: ids are unique, what is referred to is there, nothing that is clicked stands in
    another (3.2.5.2.7), rows of a table are as wide as its head (4.9.12); from memory.
    """
    tree = html5lib.parse(text, namespaceHTMLElements=False)
    above = {child: parent for parent in tree.iter() for child in parent}
    ids = [element.get("id") for element in tree.iter() if element.get("id")]
    yield from {f"id {one} is there twice" for one in ids if ids.count(one) > 1}
    clicked = {"a", "button", "select", "input", "label", "summary"}
    for element in tree.iter():
        for key in ("aria-labelledby", "aria-describedby", "for"):
            for name in (element.get(key) or "").split():
                if name not in ids:
                    yield f"{key} {name} is nowhere"
        outer = above.get(element)
        while element.tag in clicked and outer is not None:
            if outer.tag in clicked - {"label"}:
                yield f"{element.tag} in {outer.tag}"
            outer = above.get(outer)
        if element.tag == "table":
            wide = {len(list(row)) for row in element.iter("tr")}
            if len(wide) > 1:
                yield f"table {element.get('id')} has rows of {wide} cells"


@pytest.mark.parametrize("which", ["hostile", "afloat", "sawn"])
def test_page_keeps_the_rules_that_its_grammar_does_not_have(written, which):
    assert not [*broken_rules((written / f"{which}.html").read_text(encoding="utf-8"))]


SPARED = ("trimming empty <tbody>",)
"""What tidy would leave out, and HTML allows (WHATWG HTML, 4.9.5, from memory)."""


def tidied(text):
    """Return what HTML Tidy says of a page: elements and attributes that no HTML has, ids twice."""
    found = pytidyhtml5.tidy_document(text)[1].splitlines()
    return [line for line in found if "Info:" not in line and not line.endswith(SPARED)]


@pytest.mark.parametrize("which", ["hostile", "afloat", "sawn"])
def test_page_is_html_to_a_checker_of_its_own(written, which):
    assert not tidied((written / f"{which}.html").read_text(encoding="utf-8"))


def test_checker_finds_what_is_no_html():
    page = "<!DOCTYPE html><title>x</title><body><p id=a colour=red><p id=a><blink>x</blink>"
    said = " ".join(tidied(page))
    assert all(word in said for word in ("colour", "already defined", "blink"))


def test_broken_rules_are_found():
    text = """<!DOCTYPE html><title>x</title><p id=a><p id=a><a href=x><button for=b>x</button></a>
    <table id=t><tr><td>1<td>2<tr><td>1</table>"""
    assert len([*broken_rules(text)]) == 4


def test_page_is_the_same_for_the_same_plan_and_day(hostile):
    assert page(hostile) == page(hostile)


def test_page_carries_the_licences_of_what_is_in_it(written):
    text = (written / "afloat.html").read_text(encoding="utf-8")
    for package in ("three 0.187.0", "d3-zoom 3.0.1", "d3-ease 3.0.2"):
        assert package in text
    assert text.count("Permission is hereby granted") >= 1


def test_data_holds_no_letter_that_ends_its_element(written):
    text = (written / "hostile.html").read_text(encoding="utf-8")
    data = re.search(r'<script type="application/json" id="plan-data">(.*?)</script>', text)[1]
    assert not set("<>&") & set(data)
    assert json.loads(data)["pieces"][0]["label"] == f"{NASTY}, 1 of 2"
    assert "\u202e" not in text


def test_pieces_that_no_board_gives_are_called_as_the_sheets_would_call_them(sawn):
    lacking = [piece for piece in plan_data(sawn)["pieces"] if piece["board"] is None]
    assert [piece["label"] for piece in lacking] == ["cheek, midships"]
    need = sawn.job.needs[-1]
    assert Placement(need, 0, 0, copy=3).label == "cheek, midships"


def test_marked_face_is_the_same_on_sheet_page_and_list(sawn):
    nest, account = sawn.plan.nests[1], sawn.account.boards[1]
    table = parts_table(nest, account, Unit.INCH)
    on_sheet = {row[1]: row[table.columns.index("face")] for row in table.rows}
    assert on_sheet == {"cheek, starboard": "up", "cheek, port": "down"}
    pieces = [piece for piece in plan_data(sawn)["pieces"] if piece["board"] == 1]
    assert {p["label"]: dict(p["facts"])["marked face"] for p in pieces} == on_sheet
    (listed,) = [one for one in plan_lists(sawn) if one.word == "boards"]
    rows = [row for row in listed.rows if row[0] == "O-1"]
    assert {row[4]: row[-1] for row in rows} == on_sheet


# ---- in a browser -------------------------------------------------------------------------------


@needs_browser
def test_names_are_shown_as_text(opened):
    tab = opened("hostile", "boards")
    for view in HASHES:
        go_to(tab, view)
        assert tab.locator("img").count() == 0
        assert tab.locator("bdi *").count() == 0
        assert "taken" not in tab.title()[:5]
    go_to(tab, "parts")
    told = tab.locator("#index").inner_text()
    assert NASTY in told
    assert IMAGE in told
    assert TURNED in told
    assert tab.locator("h1").inner_text() == TITLE.replace("\u202e", "\\u202e")


@needs_browser
def test_no_script_but_its_own_may_run(opened):
    tab = opened("hostile", "boards")
    ran = tab.evaluate(
        """() => { const s = document.createElement('script'); s.textContent = 'window.ran = 1'
        document.body.append(s); return 'ran' in window }"""
    )
    assert not ran
    refused = tab.evaluate("fetch('https://example.org').then(() => 'in', () => 'refused')")
    assert refused == "refused"
    tab.asked.clear()


def drawn(tab, selector):
    """Return what paths draw, each as rings of points in the board's frame."""
    return tab.evaluate(
        """selector => [...document.querySelectorAll(selector)].map(path => {
          const own = path.transform.baseVal.consolidate()
          const [a, b, c, d, e, f] = own ? ['a', 'b', 'c', 'd', 'e', 'f'].map(k => own.matrix[k])
            : [1, 0, 0, 1, 0, 0]
          return path.getAttribute('d').split('Z').filter(Boolean).map(ring => ring.slice(1)
            .split('L').map(p => p.trim().split(' ').map(Number))
            .map(([x, y]) => [a * x + c * y + e, b * x + d * y + f]))
        })""",
        selector,
    )


@needs_browser
def test_parts_lie_on_the_page_where_the_written_sheet_has_them(opened, hostile, tmp_path):
    tab = opened("hostile", "board-0")
    nest, account = hostile.plan.nests[0], hostile.account.boards[0]
    found = [Polygon(rings[0], rings[1:]) for rings in drawn(tab, "#board-drawing .piece path")]
    sheet = cut_sheet(nest, account, hostile.job.rules, project_name="Page", unit=Unit.INCH)
    write_dxf(sheet, tmp_path / "board.dxf")
    record = read_back(tmp_path / "board.dxf")
    for shown, placement, part in zip(found, nest.placements, record.cuts, strict=True):
        assert len(shown.interiors) == 1
        assert shown.hausdorff_distance(placement.polygon) < AGREE_MM
        assert shown.hausdorff_distance(part.polygon) < AGREE_MM
    (edge,) = drawn(tab, "#board-drawing .wood")
    assert Polygon(edge[0]).hausdorff_distance(nest.board.shape) < AGREE_MM
    rot = drawn(tab, "#board-drawing .keep.rot")
    assert Polygon(rot[0][0]).hausdorff_distance(nest.board.keep_outs[3].polygon) < AGREE_MM


@needs_browser
def test_holes_and_bungs_are_drawn_where_they_are(opened, hostile):
    tab = opened("hostile", "board-0")
    box_of = """selector => { const b = document.querySelector(selector).getBBox()
      return [b.x, b.y, b.x + b.width, b.y + b.height] }"""
    hole = hostile.plan.nests[0].board.keep_outs[0]
    assert tab.evaluate(box_of, "#board-drawing .keep.hole") == pytest.approx(
        hole.polygon.bounds, abs=AGREE_MM
    )
    (bung,) = hostile.account.boards[0].bungs
    assert tab.evaluate(box_of, "#board-drawing .bung") == pytest.approx(
        shapely.Point(bung.x_mm, bung.y_mm).buffer(bung.diameter_mm / 2).bounds, abs=AGREE_MM
    )


@needs_browser
def test_pattern_is_the_outline(opened, hostile):
    tab = opened("hostile", "part-0")
    (rings,) = drawn(tab, "#part-drawing .outline")
    outline = hostile.job.needs[0].outline
    assert Polygon(rings[0], rings[1:]).hausdorff_distance(outline.shape) < AGREE_MM
    told = tab.locator("#view-part").inner_text()
    assert "4.2° standing" in told
    assert "7.0° under" in told
    assert "bungs\n1 of" in told


@needs_browser
def test_lengths_are_written_as_the_program_writes_them(opened):
    tab = opened("hostile", "boards")
    rng = np.random.default_rng(4)
    lengths = [0.0, -0.2, 5.9999999999, 25.4, 99.96, 100.0, 609.6, 609.5, 2247.9]
    lengths += rng.uniform(-900, 9000, 300).tolist()
    for unit in Unit:
        tab.evaluate("([name, mm]) => { plan.unit = { name, mm } }", [unit.value, unit.mm])
        told = tab.evaluate("lengths => lengths.map(lengthText)", [float(mm) for mm in lengths])
        assert told == [format_length(float(mm), unit) for mm in lengths]


@needs_browser
def test_part_is_found_opened_and_left_again(opened):
    tab = opened("hostile", "boards")
    tab.locator("#sift-name").fill("quoted")
    assert tab.locator("#sift-found").inner_text() == "1 of 3 boards, 1 of 4 parts"
    assert tab.locator("#rack li[data-board]:visible").count() == 1
    tab.locator("#rack a.piece:visible").focus()
    tab.keyboard.press("Enter")
    tab.locator("#view-part").wait_for()
    assert "quoted" in tab.locator("#head-part").inner_text()
    assert tab.evaluate("document.activeElement.id") == "head-part"
    tab.get_by_role("link", name=re.compile("^Board B")).click()
    tab.locator("#view-board").wait_for()
    assert "<b>2</b>" in tab.locator("#head-board").inner_text()
    tab.go_back()
    tab.go_back()
    tab.locator("#view-boards").wait_for()
    assert tab.locator("#view-boards").is_visible()
    assert tab.locator("#sift-name").input_value() == "quoted"


@needs_browser
@pytest.mark.parametrize(
    ("choice", "value", "boards", "parts"),
    [
        ("wood", "oak", 1, 0),
        ("thick", taped_length(32, Unit.INCH), 1, 2),
        ("board", "1", 1, 1),
        ("part", "0", 1, 2),
        ("system", "other", 2, 4),
    ],
)
def test_boards_and_parts_are_narrowed_down(opened, choice, value, boards, parts):
    tab = opened("hostile", "boards")
    tab.locator(f"#sift-{choice}").select_option(value)
    assert tab.locator("#sift-found").inner_text() == f"{boards} of 3 boards, {parts} of 4 parts"


@needs_browser
def test_distance_between_two_corners_is_measured(opened):
    tab = opened("hostile", "board-1")
    tab.get_by_role("button", name="measure between two points").click()
    corners = tab.evaluate(
        """() => [[0, 0], [1500, 150]].map(point => {
          const box = openDesk.canvas.getBoundingClientRect(), [x, y] = toScreen(openDesk, point)
          const times = box.width / openDesk.width
          return [box.left + x * times, box.top + y * times]
        })"""
    )
    for x, y in corners:
        tab.mouse.click(x + 3, y - 3)
    told = tab.locator(".tools output").inner_text()
    across, along = format_length(150, Unit.INCH), format_length(1500, Unit.INCH)
    assert (
        told == f"{format_length(np.hypot(1500, 150), Unit.INCH)} (along {along}, across {across})"
    )
    assert tab.locator("#view-board").is_visible()


@needs_browser
def test_distance_is_measured_by_keys(opened):
    tab = opened("hostile", "board-2")
    tab.get_by_role("button", name="measure between two points").press("Enter")
    tab.keyboard.press("Enter")
    for _ in range(10):
        tab.keyboard.press("ArrowRight")
    tab.keyboard.press("Enter")
    mm = 120 / tab.evaluate("openDesk.view.scale")
    assert tab.locator(".tools output").inner_text().startswith(format_length(mm, Unit.INCH))


@needs_browser
def test_escape_ends_measuring(opened):
    tab = opened("hostile", "board-2")
    button = tab.get_by_role("button", name="measure between two points")
    button.press("Enter")
    tab.keyboard.press("Enter")
    assert tab.locator(".measure circle").count() == 1
    tab.keyboard.press("Escape")
    assert tab.locator(".measure").locator("circle, path").count() == 0
    assert button.get_attribute("aria-pressed") == "false"
    assert tab.locator(".tools output").inner_text() == ""


@needs_browser
def test_name_of_a_board_stays_in_sight_while_parts_far_along_it_are_looked_at(opened):
    """Board and name were moved aside together, the name out of sight, on a narrow screen."""
    tab = opened("hostile", "boards", size=(200, 700))
    tab.locator("#rack a.piece").last.focus()
    told = tab.evaluate(
        """() => { const card = document.activeElement.closest('li')
        const parts = [...card.querySelectorAll('*')].filter(one =>
          one.scrollWidth > one.clientWidth && getComputedStyle(one).overflowX === 'auto')
        parts.forEach(one => { one.scrollLeft = 1000 })
        card.scrollLeft = 1000
        return [parts.length, parts[0]?.scrollLeft,
          card.querySelector('.caption').getBoundingClientRect().left] }"""
    )
    assert told[0] == 1
    assert told[1] > 0
    assert told[2] >= 0


@needs_browser
@pytest.mark.parametrize("scheme", ["light", "dark"])
@pytest.mark.parametrize("place", ["boards", "board-0"])
def test_a_part_in_focus_is_seen_by_the_colour_of_every_focus(opened, place, scheme):
    """Browsers draw no frame about what is inside a drawing: its edge is looked for in pixels."""
    tab = opened("hostile", place)
    tab.emulate_media(color_scheme=scheme)
    piece = tab.locator("a.piece:visible").first
    box = piece.bounding_box()
    around = {"x": box["x"] - 4, "y": box["y"] - 4, "width": box["width"] + 8,
              "height": box["height"] + 8}  # fmt: skip

    def marked():
        seen = np.frombuffer(tab.screenshot(clip=around), np.uint8)
        picture = cv2.imdecode(seen, cv2.IMREAD_COLOR)[..., ::-1].astype(int)
        mark = tab.evaluate(
            """() => { const one = document.createElement('i'); one.style.color = 'var(--mark)'
            document.body.append(one); const told = getComputedStyle(one).color; one.remove()
            return told.match(/[0-9]+/g).map(Number) }"""
        )
        return int((np.abs(picture - mark).max(axis=2) < 30).sum())

    tab.keyboard.press("Tab")
    before = marked()
    piece.focus()
    assert marked() - before > 3 * 2 * (box["width"] + box["height"])


@needs_browser
def test_drawing_is_moved_and_enlarged_without_being_drawn_anew(opened):
    tab = opened("hostile", "board-0")
    tab.evaluate(
        """() => { window.changes = []; new MutationObserver(found => found.forEach(one =>
        changes.push(one.target.closest('.measure') ? 'measure' : one.attributeName || 'child')))
        .observe(openDesk.canvas, { subtree: true, childList: true, attributes: true }) }"""
    )
    spot = tab.locator("#board-drawing svg").bounding_box()
    x, y = spot["x"] + 200, spot["y"] + 20
    tab.mouse.move(x, y)
    tab.mouse.down()
    for step in range(10):
        tab.mouse.move(x + 9 * step, y + step)
    tab.mouse.up()
    assert tab.evaluate("openDesk.at.x") > 70
    assert set(tab.evaluate("changes")) <= {"transform", "measure"}
    tab.mouse.wheel(0, -300)
    tab.wait_for_timeout(50)
    assert tab.evaluate("openDesk.at.k") > 1.1


@needs_browser
def test_pieces_stand_in_the_boat_and_are_turned_by_keys(opened):
    tab = opened("afloat", "boat", size=(700, 700))
    assert tab.evaluate("stage.pieces.length") == 5
    tab.wait_for_timeout(200)
    grab = "() => { drawBoat(); return $('boat-canvas').toDataURL() }"
    before = tab.evaluate(grab)
    tab.locator("#boat-canvas").focus()
    tab.keyboard.press("ArrowLeft")
    tab.keyboard.press("ArrowUp")
    assert tab.evaluate(grab) != before
    spot = tab.evaluate(
        """() => { const at = stage.pieces[0].middle.clone().project(stage.camera)
        const box = $('boat-canvas').getBoundingClientRect()
        return [box.left + (at.x + 1) / 2 * box.width, box.top + (1 - at.y) / 2 * box.height] }"""
    )
    tab.evaluate("document.querySelector('#sift-part').value = '0'; sift()")
    tab.mouse.click(*spot)
    told = tab.locator("#boat-chosen").inner_text()
    assert told.startswith("floor, frame 12, board D-01: ")
    assert "frame 12" in told.split(": ")[1]


@needs_browser
def test_pieces_that_are_sawn_already_are_not_shown_as_left_over(opened):
    tab = opened("half-built", "boat", size=(700, 700))
    groups = "Object.fromEntries(stage.pieces.map(piece => [piece.data.label, piece.group]))"
    found = tab.evaluate(groups)
    assert found.pop("floor, frame 12") == "sawn already"
    assert found == {"floor, frame 14": "D-01", "beam": "D-02", "strake, starboard": "",
                     "strake, port": ""}  # fmt: skip
    tab.evaluate("choosePiece(stage.pieces.find(piece => piece.data.label === 'floor, frame 12'))")
    assert (
        tab.locator("#boat-chosen").inner_text().startswith("floor, frame 12, sawn of board P-9:")
    )
    tab.locator("#boat-key button", has_text="sawn already").click()
    assert tab.evaluate("stage.pieces.filter(piece => piece.isShown).length") == 1


@needs_browser
def test_boat_on_the_page_stands_where_the_project_has_her(opened, afloat):
    tab = opened("afloat", "boat")
    boxes = tab.evaluate(
        """() => Object.fromEntries(stage.pieces.map(piece => {
        const box = new THREE.Box3().setFromObject(piece.body)
        return [piece.data.label, [...box.min.toArray(), ...box.max.toArray()]] }))"""
    )
    for name, part in afloat.job.parts.items():
        if name.startswith("strake"):
            continue
        faces, place = part.faces(), part.positions()[0]
        ends = [(f.near, 0.0) for f in faces.edges] + [
            (f.far, -faces.siding_mm) for f in faces.edges
        ]
        points = np.vstack([np.column_stack([p, np.full(len(p), z)]) for p, z in ends])
        inside = place.in_boat(points)
        assert boxes[name] == pytest.approx([*inside.min(axis=0), *inside.max(axis=0)], abs=0.3)


@needs_browser
@pytest.mark.parametrize(("scheme", "rules"), [("light", None), ("dark", ["color-contrast"])])
def test_nothing_serious_stands_in_anybodys_way(opened, scheme, rules):
    """In every view; by night only the colours are others."""
    only = {"runOnly": rules} if rules else {}
    pages = [("hostile", HASHES), ("afloat", ("boat", "part-1"))]
    pages += [] if rules else [("sawn", ("board-0", "lists", "stand"))]
    for name, views in pages:
        tab = opened(name, views[0], scheme=scheme, size=(1000, 700))
        tab.evaluate(Axe().axe_script)
        for view in views:
            go_to(tab, view)
            asked = {"resultTypes": ["violations"], **only}
            found = tab.evaluate("asked => axe.run(document, asked)", asked)["violations"]
            grave = [
                f"{view}: {one['id']}: {one['nodes'][0]['html'][:120]}"
                for one in found
                if one["impact"] in ("serious", "critical")
            ]
            assert not grave


@needs_browser
@pytest.mark.parametrize("which", ["hostile", "afloat"])
def test_phone_shows_every_view_without_scrolling_sideways(opened, which):
    tab = opened(which, "boards", size=(390, 844), touch=True)
    for view in (*HASHES[:7], "left", *(["boat"] if which == "afloat" else [])):
        go_to(tab, view)
        assert tab.evaluate("document.documentElement.scrollWidth") <= 390, view


@needs_browser
def test_light_is_chosen_by_hand_and_kept(opened):
    tab = opened("hostile", "boards", scheme="light")
    ground = "getComputedStyle(document.documentElement).backgroundColor"
    bright = tab.evaluate(ground)
    tab.locator("#look").select_option("dark")
    assert tab.evaluate(ground) != bright
    tab.reload()
    assert tab.evaluate(ground) != bright


@needs_browser
def test_one_board_is_printed_alone(opened):
    tab = opened("hostile", "board-0")
    tab.emulate_media(media="print")
    for gone in ("nav", "#sift", ".acts", ".tools", "#view-boards"):
        assert not tab.locator(gone).first.is_visible()
    assert tab.locator("#board-drawing svg").is_visible()
    assert "Old paper bears another word" in tab.locator("footer").inner_text()
    assert IN_SHORT[0] in tab.locator("footer").inner_text()
    tab.emulate_media(media="screen")
    assert IN_SHORT[0] not in tab.locator("footer").inner_text()


@needs_browser
def test_break_down_cuts_are_drawn_where_the_written_sheet_has_them(opened, sawn, tmp_path):
    nest, account = sawn.plan.nests[0], sawn.account.boards[0]
    sheet = cut_sheet(nest, account, sawn.job.rules, project_name="Sawn", unit=Unit.INCH)
    write_dxf(sheet, tmp_path / "board.dxf")
    cuts = read_back(tmp_path / "board.dxf").break_down
    assert any(cut.is_stopped for cut in cuts)
    tab = opened("sawn", "board-0")
    edge, beyond = nest.board.shape.exterior, tab.evaluate("BEYOND_PX / openDesk.view.scale")
    shown = drawn(tab, "#board-drawing path.cut")
    assert len(shown) == len(cuts)
    for (line,), cut in zip(shown, cuts, strict=True):
        for (x, y), end in zip(line, (cut.start, cut.end), strict=True):
            further = beyond if edge.distance(shapely.Point(end)) < AGREE_MM else 0.0
            assert np.hypot(x - end[0], y - end[1]) == pytest.approx(further, abs=AGREE_MM)
            assert shapely.Point(x, y).distance(shapely.LineString([cut.start, cut.end])) == (
                pytest.approx(further, abs=AGREE_MM)
            )
    ends = [(end, stop) for c in cuts for end, stop in zip((c.start, c.end), c.stops, strict=True)]
    bars = tab.evaluate(
        """() => [...document.querySelectorAll('#board-drawing path.stop')].flatMap(path =>
          path.getAttribute('d').split('M').filter(Boolean).map(bar => {
            const [a, b] = bar.split('L').map(end => end.trim().split(' ').map(Number))
            return [(a[0] + b[0]) / 2, (a[1] + b[1]) / 2] }))"""
    )
    for bar, stop in zip(bars[::2], [end for end, stop in ends if stop], strict=True):
        assert bar == pytest.approx(stop, abs=AGREE_MM)
    told = tab.locator("#view-board").inner_text()
    assert "STOP c2 c3" in tab.locator("#board-drawing").inner_text()
    for row in cut_rows(nest, account, base_of(nest, Tape.of(Unit.INCH)), Unit.INCH):
        assert "\t".join(row) in told
    shown = "getComputedStyle(document.querySelector('#board-drawing .cut')).display"
    assert tab.evaluate(shown) == "inline"
    tab.locator("#show-cuts").uncheck()
    assert tab.evaluate(shown) == "none"


@needs_browser
def test_other_one_of_a_pair_is_seen_on_its_own_marked_face(opened, sawn):
    outline = sawn.job.needs[-1].outline.shape
    for number, wanted in ((4, outline), (5, shapely.transform(outline, lambda p: p * [-1, 1]))):
        tab = opened("sawn", f"part-{number}")
        (rings,) = drawn(tab, "#part-drawing .outline")
        assert Polygon(rings[0]).hausdorff_distance(wanted) < AGREE_MM
        assert ("port" in tab.locator("#head-part").inner_text()) == (number == 5)


@needs_browser
def test_lists_say_what_paper_says(opened, sawn):
    tab = opened("sawn", "lists")
    lists = {one.word: one for one in (*plan_lists(sawn), *buying_lists(sawn))}
    for word in ("order", "bungs", "holes", "money"):
        if not lists[word].on_paper:
            assert tab.locator(f"#list-{word}").count() == 0
            continue
        rows = tab.locator(f"#list-{word} tbody tr")
        cells = [[c.strip() for c in row.split("\t")] for row in rows.all_inner_texts()]
        wanted = lists[word].cells(Unit.INCH)
        assert cells == [[c.strip() for c in row] for row in wanted]
    tab.locator("#list-order a").first.click()
    tab.locator("#view-board").wait_for()
    assert tab.evaluate("location.hash") == "#board-0"
    told = tab.locator("#board-facts").inner_text()
    assert "1 of 2" in told
    assert "metal: keep every cut clear of it" in told


@needs_browser
def test_what_scripts_write_keeps_the_same_rules(opened):
    tab = opened("sawn", "board-0")
    for view in ("board-0", "board-1", "part-0", "parts", "boards"):
        go_to(tab, view)
        assert not [*broken_rules(tab.content())], view


@needs_browser
def test_page_says_where_you_are_only_by_a_book(opened):
    tab = opened("sawn", "stand")
    assert tab.locator("#view-stand td").all_inner_texts() == ["6", "3"]
    assert opened("hostile", "boards").locator("nav a[href='#stand']").count() == 0


@needs_browser
def test_five_hundred_boards_are_drawn_as_they_come_into_sight(browser, tmp_path):
    need = Need.of("strip", Outline(box(0, 0, 700, 60), 20), ["teak"], quantity=500)
    nests = [
        Nest(Board.rectangle(f"Q-{k}", 1800, 150, 25, "teak"), (Placement(need, 20, 20, copy=k),))
        for k in range(1, 501)
    ]
    one = folio_of(nests[:1], [need])
    first = replace(one.account.boards[0], break_down=BreakDown((), (), ()))
    boards = tuple(replace(first, board_name=n.board.name) for n in nests)
    many = replace(one, plan=CuttingPlan(tuple(nests)), account=Account(boards, ()))
    ((_, content),) = made(many)
    (tmp_path / "many.html").write_bytes(content)
    tab = browser.new_page(viewport={"width": 1000, "height": 800})
    tab.goto((tmp_path / "many.html").as_uri())
    tab.wait_for_selector("#rack .piece")
    assert tab.locator("#rack li[data-board]").count() == 500
    assert tab.locator("#rack .piece").count() < 100
    tab.evaluate("document.querySelector('#rack li:last-child').scrollIntoView()")
    tab.wait_for_selector("#rack li:last-child .piece")
    assert len(content) < 4e6
    tab.close()


@needs_browser
def test_number_on_a_phone_stands_on_its_own_part_or_the_drawing_says_that_it_is_left_out(
    browser, tmp_path
):
    need = Need.of("block", Outline(box(0, 0, 38, 20), 20), ["teak"], quantity=40)
    rail = Need.of("rail", Outline(box(0, 0, 1500, 70), 20), ["teak"])
    places = [Placement(rail, 1500, 10, copy=1)]
    places += [
        Placement(need, 10 + 45 * (k % 20), 10 + 30 * (k // 20), copy=k + 1) for k in range(40)
    ]
    nest = Nest(Board.rectangle("Q", 3300, 95, 25, "teak"), tuple(places))
    ((_, content),) = made(folio_of([nest], [rail, need]))
    (tmp_path / "tiny.html").write_bytes(content)
    tab = browser.new_page(viewport={"width": 390, "height": 800})
    tab.goto(f"{(tmp_path / 'tiny.html').as_uri()}#board-0")

    def numbers():
        found = tab.locator("#board-drawing .tag.number").all_text_contents()
        return [words for words in found if words], tab.locator(
            "#board-drawing .ruler"
        ).text_content()

    shown, told = numbers()
    assert [words.split()[0] for words in shown] == ["1"]
    assert "40 numbers: enlarge" in told
    texts = tab.locator("#board-drawing .ruler text")
    ruler, more = (texts.nth(k).bounding_box() for k in range(2))
    assert ruler["x"] + ruler["width"] < more["x"] and more["x"] + more["width"] <= 390
    tab.evaluate("openDesk.nearer(16)")
    tab.wait_for_timeout(400)
    shown, told = numbers()
    assert len(shown) == 41 and "enlarge" not in told
    tab.close()


@needs_browser
@pytest.mark.parametrize("width", [320, 390, 700, 1280])
def test_names_of_wide_letters_stand_on_their_own_parts(browser, tmp_path, width):
    """Chinese letters are twice as wide as others, and so are some of ours beside the rest."""
    names = ["\u808b\u9aa8\u7b2c\u5341\u4e8c\u53f7", "W" * 14, "il" * 9, "\U00020000" * 5]
    needs = [Need.of(name, Outline(box(0, 0, 300, 60), 20), ["oak"]) for name in names]
    lying = [Placement(need, 10.0 + 320.0 * k, 15.0) for k, need in enumerate(needs)]
    board = Board.rectangle("B", 1300, 90, 25, "oak")
    path = tmp_path / "page.html"
    path.write_text(page(folio_of([Nest(board, tuple(lying))], needs)), encoding="utf-8")
    tab = browser.new_page(viewport={"width": width, "height": 700})
    tab.goto(path.as_uri())
    tab.wait_for_selector("#rack .piece")
    found = tab.evaluate(
        """() => [...document.querySelectorAll('#rack text.number')].map(tag => {
          const box = tag.getBoundingClientRect(), middle = box.x + box.width / 2
          const part = [...document.querySelectorAll('#rack .piece path')].map(
            path => path.getBoundingClientRect()).find(one => one.x < middle && middle < one.right)
          return [tag.textContent, box.x - part.x, part.right - box.right] })"""
    )
    tab.close()
    shown = [words for words, *_ in found if words]
    assert shown
    assert width < 1280 or any(len(words) > 3 for words in shown)
    assert [row for row in found if row[0] and min(row[1:]) < -1.0] == []
