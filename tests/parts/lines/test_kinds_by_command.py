"""Kinds of boat as somebody has them: a table in a file, a project, and the commands one after
the other: with ``KINDS_OF_BOAT=all``, some minutes; the gate takes none.
"""

import os
from dataclasses import replace

import pytest
from kinds_of_hull import canoe_stern, s_sheer, shallow_punt
from known_hulls import counter, double_ender, reverse_sheer, table_of

from nesting import cli
from parts.lines import read_table
from parts.lines.table import EDGES, LineKind, Measure

PROJECT = """\
version: 1
name: {name}
unit: mm
boat:
  lines: {table}
  planking: 16
  frames: {{first: {first}, spacing: 300, count: {count}, siding: 25, moulding: 32}}
  keel: {{siding: 90}}
  deck: {{thickness: 14}}
  beam_mould: {{span: 2600, camber: 90}}
  beams: {{ordinary: {{siding: 28, moulding: {deep}}}}}
  clamp: {{thickness: 20, depth: {clamp}}}
  floor_heads: {heads}
  transom: 22
stock:
{boards}
parts:
  - {{part: floor, family: floor timber, at: [frame {mid}, frame {after}], species: white oak,
     shape: {{siding: 40, moulding: {floor}, arm: {arm}}}}}
  - {{part: beam, family: deck beam, at: [frame {fore}, frame {mid}, frame {after}],
     species: white oak, shape: {{bearing: 40}}}}
  - {{part: clamp strake, family: clamp, at: frames {fore} to {after}, species: white oak,
     shape: {{}}}}
  - {{part: ceiling, family: ceiling strake, at: frames {fore} to {mid}, species: white oak,
     shape: {{thickness: 12, of: 4, strakes: [2]}}}}
{more}"""

QUARTER = """\
  - {part: quarter knee, family: quarter knee, at: transom, species: white oak,
     shape: {siding: 40, beam_arm: 240, side_arm: 280, throat: 90, tip_moulding: 30, bolt: 8,
             grain: laminated}}
"""

BOARDS = "\n".join(
    f"  - {{board: {name}, species: white oak, thickness: {thick}, length: 4 m, width: 400}}"
    for name, thick in (*((f"A{n}", 60) for n in range(3)), *((f"B{n}", 32) for n in range(4)))
)

USUAL = {"deep": 50, "clamp": 110, "heads": 120, "floor": 90, "arm": 280}
SHALLOW = {"deep": 26, "clamp": 40, "heads": 15, "floor": 40, "arm": 280}


def with_transom(known, foot_x, head_x):
    """Return a table whose transom rakes from the rabbet up to the sheer."""
    ends = [
        (foot_x, float(known.point(foot_x, 0.0)[2])),
        (head_x, float(known.point(head_x, 1.0)[2])),
    ]
    return replace(table_of(known), transom=tuple(ends))


KINDS = {
    "counter": lambda: with_transom(counter(), 7500.0, 7850.0),
    "reverse sheer": lambda: with_transom(reverse_sheer(), 5900.0, 6050.0),
    "transom leaning forward": lambda: with_transom(s_sheer(), 5850.0, 5600.0),
    "canoe stern": lambda: table_of(canoe_stern()),
    "double-ender": lambda: table_of(double_ender()),
    "shallow punt": lambda: table_of(shallow_punt()),
}

WANTED = os.environ.get("KINDS_OF_BOAT") == "all"


def csv_of(table):
    """Return a table as somebody would type it."""
    pairs = lambda points: ["{:.0f} {:.0f}".format(*point) for point in points]  # noqa: E731
    rows = [
        ["name", table.name], ["unit", "mm"], ["to", "outside of planking"], ["planking", "16"],
        ["station", *(s.name for s in table.stations)],
        ["from forward", *(f"{x:.0f}" for x in table.x)],
    ]  # fmt: skip
    for name in ("stem", "stern", "transom"):
        if getattr(table, name):
            rows.append([name, *pairs(getattr(table, name))])
    headed = {"heights": [], "half-breadths": [], "diagonals": []}
    for line in table.lines:
        figures = ["-" if one is None else one.written for one in line.offsets]
        section, name = _place(line)
        headed[section].append([name, *figures])
    for section, lines in headed.items():
        rows += [[section], *lines]
    return "\n".join(",".join(row) for row in rows) + "\n"


def _place(line):
    if line.kind is LineKind.DIAGONAL:
        (y, z), (out, up) = line.origin, line.direction
        name = f"{line.name} from {z:.3f} through {y + 500 * out:.3f} {z + 500 * up:.3f}"
        return "diagonals", name
    is_height = line.measure is Measure.HEIGHT
    assert line.kind in EDGES or is_height is (line.kind is LineKind.BUTTOCK)
    return ("heights" if is_height else "half-breadths"), line.name


@pytest.mark.skipif(not WANTED, reason="takes minutes: KINDS_OF_BOAT=all")
@pytest.mark.parametrize("kind", list(KINDS))
def test_boat_of_a_kind_goes_through_all_commands(kind, tmp_path, capsys):
    table = KINDS[kind]()
    path = tmp_path / "offsets.csv"
    path.write_text(csv_of(table))
    assert read_table(path).stations == tuple(
        replace(s, x_mm=float(f"{s.x_mm:.0f}")) for s in table.stations
    )
    low, high = table.x[0], table.transom[0][0] if table.transom else table.x[-1]
    count = int((high - low - 300) // 300)
    sizes = SHALLOW if kind == "shallow punt" else USUAL
    project = tmp_path / "project.yaml"
    project.write_text(
        PROJECT.format(
            name=kind, table=path.name, boards=BOARDS, first=round(low + 200), count=count,
            fore=count // 4 + 1, mid=count // 2, after=count - count // 4,
            more=QUARTER if table.transom else "", **sizes,
        )
    )  # fmt: skip

    def run(*options):
        code = cli.main([str(option) for option in options])
        found = capsys.readouterr()
        assert code == cli.ALL_PLACED, found.err + found.out
        return " ".join((found.out + found.err).split())

    told = run("loft", path, "-o", tmp_path / "o", "--trim", "40", "-q")
    assert "No figure is odd" in told
    assert "Trimmed, as much water" in told
    assert "odd" not in run("check", project)
    out = tmp_path / "out"
    nested = run("nest", project, "--rounds", "2", "--workers", "1", "-o", out, "-q")
    assert "left over" not in nested
    boat = run("boat", project, "-o", out, "-q")
    assert "run into each other" in boat or "no two pieces" in boat.casefold()
    if table.transom:
        assert (tmp_path / "o").exists()
