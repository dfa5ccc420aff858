"""Imports go one way through the whole project, and heavy libraries stay in their rooms.

Each floor of `FLOORS` imports from floors below it, and from its own rooms as long as no circle
comes of it. A new module is put on a floor here; imports inside functions count as any other.
"""

import ast
from collections.abc import Iterator
from functools import cache
from graphlib import CycleError, TopologicalSorter
from pathlib import Path

import pytest

ROOT = Path(__file__).parents[1]

FLOORS = {
    "words, errors, lengths": """
        errors late_names words unseen told plain_file sources cautions units
        written_measures fields grain arguments work likely_sizes faces yaml_file table_file
        streams spreadsheet text_table given piece_names sheet_goods shop.kinds
        processes.garbage folders.file_names marking.tape flat_geometry.natural_spline""",
    "when the engine stops": "engine engine.stop",
    "processes and folders": "processes folders consent",
    "flat geometry": "flat_geometry dxf_file",
    "boards, needs, plans": """
        stock outline rules rates need nest ideal left_over run_out offcuts plugging
        new_timber_rules bend summary summary.fields summary.file sheets_kept foretold
        thumbnail job marking eased boat_systems break_down wishes""",
    "what parts are made of": """
        parts parts.position parts.lamella parts.curves parts.widths parts.both_faces parts.solids
        parts.laid_flat parts.wood parts.marks parts.part parts.run_out parts.own_code""",
    "parts": """
        parts.lines parts.boat parts.butts parts.families parts.fitted parts.model parts.step_files
        parts.registry parts.describe parts.shaped""",
    "the referee of plans": "referee",
    "engine: geometry": "engine.geometry",
    "engine: wood": "engine.wood",
    "engine: jostle, front, proof": "engine.jostle engine.front engine.proof",
    "engine: state": "engine.state",
    "engine: search, strip": "engine.search engine.strip",
    "engine: the door": "engine.pack engine.progress",
    "the project file": "project remarks",
    "accounts": "accounts",
    "sheets": "sheets read_back summary.of_plan summary.read_plan shop.identity changes last_plan",
    "judging": "judging",
    "what the shop works from": "shop",
    "the stock book": "book",
    "boards out of photographs": "photo",
    "written folders": """
        sheet_task outputs boat_outputs boat_meetings read_back.remeasure console loft
        judging.words judging.learnt_words judging.forecast_words judging.outputs book.words""",
    "the command line": "commands cli __main__",
    "the front door for scripts": "front_door nesting",
}
"""From the ground up. Names without ``parts.`` are those of ``nesting``."""

FORBIDDEN = {
    "referee": "engine",
    "read_back.sheet": "engine",
    "read_back.drawing": "engine",
    "sheets": "engine",
    "engine.jostle": "engine.wood",
    "engine.strip": "engine.search",
    "engine.proof": "engine.jostle",
}
"""Further rules: what the first never reaches, straight away or by way of others."""

KEPT_IN = {
    "cadquery": {"parts.solids", "parts.laid_flat", "parts.step_files", "parts.model"},
    "OCP": {"parts.laid_flat"},
    "fontTools": {"faces"},
    "matplotlib": {"sheets"},
    "reportlab": {"sheets"},
    "segno": {"shop"},
    "jinja2": {"shop"},
    "vtk": {"parts.model"},
    "rich": {"console"},
    "ezdxf": {"dxf_file"},
    "numba": {"engine"},
    "yaml": {"yaml_file"},
    "openpyxl": {"table_file"},
    "cv2": {"photo"},
    "PIL": {"photo"},
}
"""Where a heavy library, or one whose form should not spread, may be imported at all."""


def modules() -> dict[str, Path]:
    """Return the files of both packages by dotted name."""
    paths = (path for package in ("nesting", "parts") for path in (ROOT / package).rglob("*.py"))
    named = {".".join(path.relative_to(ROOT).with_suffix("").parts): path for path in paths}
    return {name.removesuffix(".__init__"): path for name, path in named.items()}


def short(module: str) -> str:
    """Return a module's name as `FLOORS` has it."""
    return module.removeprefix("nesting.")


@cache
def floors() -> dict[str, int]:
    """Return the floor of each room, counted from the ground."""
    return {room: floor for floor, rooms in enumerate(FLOORS.values()) for room in rooms.split()}


def room_of(module: str) -> str:
    """Return the room that a module stands in: the longest name in `FLOORS` that begins its own."""
    name = short(module)
    while name and name not in floors():
        name = name.rpartition(".")[0]
    assert name, f"{module} stands on no floor of this test: put it on one"
    return name


@cache
def _imports(path: Path) -> tuple[list[ast.stmt], set[ast.stmt]]:
    """Return the lines of a file that import, and which of all lines are for types alone."""
    nodes = list(ast.walk(ast.parse(path.read_text(encoding="utf-8"))))
    typing = {
        node
        for test in nodes
        if isinstance(test, ast.If) and ast.unparse(test.test) == "TYPE_CHECKING"
        for node in test.body
    }
    return [node for node in nodes if isinstance(node, ast.Import | ast.ImportFrom)], typing


def imported(path: Path, *, for_types: bool = True) -> Iterator[str]:
    """Yield the dotted names that a file imports, anywhere in it, or not those for types alone."""
    lines, typing = _imports(path)
    for node in lines:
        if node in typing and not for_types:
            continue
        if isinstance(node, ast.Import):
            yield from (alias.name for alias in node.names)
        elif isinstance(node, ast.ImportFrom):
            assert node.module and not node.level, f"{path}: imports are written in full"
            yield from (f"{node.module}.{alias.name}" for alias in node.names)


@cache
def arrows() -> dict[str, set[str]]:
    """Return the modules of ours that each module of ours imports."""
    known = modules()
    found: dict[str, set[str]] = {name: set() for name in known}
    for name, path in known.items():
        for target in imported(path):
            ours = target if target in known else target.rpartition(".")[0]
            if ours in known:
                found[name].add(ours)
    return found


def test_every_module_imports_downward():
    """No arrow points to a higher floor."""
    upward = [
        f"{module} imports {target}"
        for module, targets in arrows().items()
        for target in targets
        if floors()[room_of(target)] > floors()[room_of(module)]
    ]
    assert not upward


def test_rooms_of_one_floor_make_no_circle():
    """Rooms can be put in an order in which each needs only those before it."""
    rooms: dict[str, set[str]] = {}
    for module, targets in arrows().items():
        mine = rooms.setdefault(room_of(module), set())
        mine.update(room_of(target) for target in targets)
    for room, needed in rooms.items():
        needed.discard(room)
    try:
        assert list(TopologicalSorter(rooms).static_order())
    except CycleError as error:
        pytest.fail(f"rooms import one another in a circle: {error.args[1]}")


def test_modules_make_no_circle():
    """Nor do single modules, inside their rooms."""
    graph = {
        name: {target for target in targets if target != name} for name, targets in arrows().items()
    }
    try:
        assert list(TopologicalSorter(graph).static_order())
    except CycleError as error:
        pytest.fail(f"modules import one another in a circle: {error.args[1]}")


@pytest.mark.parametrize(("first", "never"), FORBIDDEN.items())
def test_some_rooms_never_reach_others(first, never):
    """Whatever stands between: the referee is no judge if it asks the engine."""
    seen = {name for name in arrows() if is_in(name, first)}
    assert seen
    ahead = set(seen)
    while ahead:
        ahead = {target for name in ahead for target in arrows()[name]} - seen
        seen |= ahead
    # The packages' own first files are on every way into them and import nothing.
    reached = {
        name for name in seen if is_in(name, never) and modules()[name].name != "__init__.py"
    }
    assert not reached - {"nesting.engine.stop"}


def is_in(module: str, room: str) -> bool:
    """Return whether a module is a room of this name, or stands in it."""
    return short(module) == room or short(module).startswith(f"{room}.")


def test_heavy_libraries_stay_in_their_rooms():
    """A library that takes long to load is imported where it is used, and nowhere else."""
    outside = [
        f"{module} imports {target}"
        for module, path in modules().items()
        for target in imported(path, for_types=False)
        if (rooms := KEPT_IN.get(target.split(".")[0])) is not None
        and not any(is_in(module, room) for room in rooms)
    ]
    assert not outside


def test_every_floor_is_lived_in():
    """No room of the table is gone from the project."""
    assert set(floors()) - {room_of(module) for module in modules()} == set()


def test_front_door_is_for_scripts_alone():
    """Its first file loads nothing by itself, and nothing of ours comes in by it."""
    assert {*imported(modules()["nesting"], for_types=False)} == {
        "importlib.import_module",
        "typing.TYPE_CHECKING",
        "typing.Any",
    }
    through = [module for module, targets in arrows().items() if "nesting" in targets]
    assert not through
