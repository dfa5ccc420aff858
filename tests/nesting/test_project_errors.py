import pytest
import yaml
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st
from project_texts import BOARD, HEAD, PART, findings_of, only_blocks, project_text, written

from nesting.errors import ProjectFileError
from nesting.project import read_project


@pytest.fixture(autouse=True)
def _families(monkeypatch):
    monkeypatch.setattr("nesting.project.own_families.known_families", only_blocks)


def _wrong(folder, **texts) -> list[str]:
    return findings_of(written(folder, project_text(**texts)))


def test_board_drawn_clockwise_is_turned_round(tmp_path):
    stock = (
        "  - {board: D, species: teak, thickness: 40, "
        "outline: [[0, 0], [0, 90], [0, 90], [900, 90], [900, 0], [0, 0]]}\n"
    )
    (board,) = read_project(written(tmp_path, project_text(stock=stock))).stock
    assert board.shape.exterior.is_ccw
    assert len(board.shape.exterior.coords) == 5


def test_self_crossing_board_says_which_edges_cross_and_where(tmp_path):
    stock = (
        "  - board: D\n    species: teak\n    thickness: 40\n"
        "    outline: [[0, 0], [900, 90], [900, 0], [0, 90]]\n"
    )
    assert _wrong(tmp_path, stock=stock) == [
        "8:14: board D: the outline crosses itself: edge 1 (from (0, 0) mm) meets edge 3 (from "
        "(900, 0) mm) at (450, 45) mm; check the order of its points"
    ]


def test_hole_outside_the_board_is_shown_where_it_is_written(tmp_path):
    stock = BOARD.replace(
        "}",
        ", keep_outs: [{kind: hole, at: [90, 50], diameter: 9},\n"
        "     {kind: metal, at: [2090, 50], diameter: 9}]}",
    )
    assert _wrong(tmp_path, stock=stock) == [
        "6:6: board D-01: metal at (2090, 50) mm lies 90.0 mm off the board; check the "
        "coordinates, or take it out of the list"
    ]


@pytest.mark.parametrize(
    ("given", "says"),
    [
        ("oak", "species: which oak? white oak, live oak or European oak; write one of them ("),
        ("Oak ", "species: which oak? white oak, live oak or European oak; write one of them ("),
        ("mahogany", "species: which mahogany? Honduras mahogany or African mahogany; write one"),
        ("spruce", "species: which spruce? Sitka spruce, black spruce or red spruce; write one"),
        ("ash", "species: 'ash' is not known, did you mean white ash? (a wood of your own"),
        ("maple", "species: 'maple' is not known, did you mean hard maple (sugar maple)? (a woo"),
    ],
    ids=["oak", "in-capitals", "mahogany", "spruce", "ash", "maple"],
)
def test_bare_kind_of_wood_is_asked_which_or_offered_the_only_one(tmp_path, given, says):
    found = _wrong(tmp_path, parts=PART.replace("[teak]", f"[teak, '{given}']"))
    assert found[0].startswith(f"7:48: part pad: {says}")
    found = _wrong(tmp_path, stock=BOARD.replace("teak", f"'{given}'"))
    assert found[0].startswith(f"5:28: board D-01: {says}")


def test_bare_kind_of_wood_counts_the_woods_of_the_project(tmp_path):
    head = HEAD + "species: [bog oak, swamp ash]\n"
    found = _wrong(tmp_path, head=head, parts=PART.replace("[teak]", "[oak, ash]"))
    assert "which oak? bog oak, white oak, live oak or European oak;" in found[0]
    assert "which ash? swamp ash or white ash;" in found[1]


def test_bare_kind_that_the_project_itself_declares_is_no_question(tmp_path):
    head = HEAD + "species: [oak]\n"
    path = written(tmp_path, project_text(head=head, parts=PART.replace("[teak]", "[oak]")))
    assert read_project(path).needs[0].species == ("oak",)


@pytest.mark.parametrize(
    ("word", "kind"),
    [
        *((word, "metal") for word in ("nail", "Nails", "screw", "bolt", "drift bolt", "spike")),
        *((word, "metal") for word in ("tack", "staples", "rivet", "copper nail", "fastening")),
        *((word, "hole") for word in ("nail hole", "screw-hole", "bolt_holes", "treenail")),
        *((word, "knot") for word in ("knothole", "knot hole", "knots")),
        *((word, "groove") for word in ("dado", "rabbet", "mortise", "notches")),
        *((word, "split") for word in ("check", "checks", "crack", "shake", "surface check")),
        *((word, "recess") for word in ("counterbore", "bung", "plugs")),
        *((word, "rot") for word in ("decay", "worm", "soft rot")),
        *((word, "stain") for word in ("rust", "paint", "iron stain")),
        *((word, "worn edge") for word in ("wane", "chafe")),
        ("houl", "hole"),
    ],
)
def test_everyday_word_for_a_keep_out_is_offered_its_kind(tmp_path, word, kind):
    keep_out = f", keep_outs: [{{kind: {word}, at: [90, 50], diameter: 9}}]}}"
    assert _wrong(tmp_path, stock=BOARD.replace("}", keep_out)) == [
        f"5:94: board D-01: kind: {word!r} is not known, did you mean {kind}?"
    ]


def test_everyday_word_among_the_clearances_is_offered_its_kind(tmp_path):
    (found,) = _wrong(tmp_path, rest="rules: {clearances: {cracks: 6}}\n")
    assert found.endswith("'cracks' is not known, did you mean split?")


@pytest.mark.parametrize("family", ["0.001", "7", "block2"])
def test_family_that_is_none_is_refused_though_it_be_a_number(tmp_path, family):
    (found,) = _wrong(tmp_path, parts=PART.replace("family: block", f"family: {family}"))
    assert f"part pad: family: '{family}' is not known" in found


def test_file_of_families_that_is_a_number_is_no_python_file(tmp_path):
    (found,) = _wrong(tmp_path, rest="families: 5\n")
    assert "families: 5 is no Python file" in found


def test_names_may_be_numbers_as_they_are_written_everywhere(tmp_path):
    text = project_text(
        stock=BOARD.replace("D-01", "007").replace("teak", "7"),
        parts=PART.replace("[teak]", "7").replace("pad", "010"),
        rest="species: 7\ngroups: {08: [007]}\nwishes: [{part: 010, from: 08}]\n",
    )
    project = read_project(written(tmp_path, text))
    assert [board.name for board in project.stock] == ["007"]
    assert [wish.boards for wish in project.wishes.from_boards] == [("007",)]


def test_unknown_species_offers_the_nearest(tmp_path):
    stock = BOARD.replace("teak", "teek")
    parts = PART.replace("[teak]", "[teak, wite oak]")
    found = _wrong(tmp_path, stock=stock, parts=parts)
    assert [message.partition(" (")[0] for message in found] == [
        "5:28: board D-01: species: 'teek' is not known, did you mean teak?",
        "7:48: part pad: species: 'wite oak' is not known, did you mean white oak?",
    ]


def test_stock_and_parts_must_not_be_empty(tmp_path):
    text = f"{HEAD}stock: []\nparts: []\n"
    assert findings_of(written(tmp_path, text)) == [
        "4:8: stock: 0 given, must be at least 1",
        "5:8: parts: 0 given, must be at least 1",
    ]


def test_stock_and_parts_must_be_there(tmp_path):
    assert findings_of(written(tmp_path, HEAD)) == [
        "1:1: parts: missing (parts of the new boat)",
        "1:1: stock: missing (boards and stock files)",
    ]


def test_board_900_mm_thick_asks_for_the_unit(tmp_path):
    assert _wrong(tmp_path, stock=BOARD.replace("thickness: 40", "thickness: 900")) == [
        "5:45: board D-01: the thickness is 900 mm, must be over 0 and at most 400 mm: is the "
        "unit right?"
    ]


def test_names_said_twice_point_at_the_second_and_name_the_first(tmp_path):
    path = written(tmp_path, project_text(stock=BOARD * 2, parts=PART * 2))
    assert findings_of(path) == [
        f"6:13: board D-01: D-01 is the name of a board at {path}:5; give another",
        f"9:12: part pad: pad is the name of a part at {path}:8; give another",
    ]


def test_name_said_twice_is_found_even_where_the_board_is_wrong(tmp_path):
    path = written(tmp_path, project_text(stock=BOARD + BOARD.replace("40", "thick")))
    assert [message.partition(":")[2] for message in findings_of(path)] == [
        f"13: board D-01: D-01 is the name of a board at {path}:5; give another",
        "45: board D-01: thickness: 'thick' is no length; write for example 2.4 m, 35 mm, "
        "1 3/4 in, 7 ft 4 1/2 in or 5-7-3",
    ]


def test_unknown_key_offers_the_nearest(tmp_path):
    found = _wrong(tmp_path, rest="rules:\n  kerf_mm: 3\n  colour: red\n")
    assert found[0] == "9:3: kerf_mm: unknown key, did you mean kerf?"
    assert found[1].startswith("10:3: colour: unknown key, allowed: kerf, trim, blade_clearance")


def test_unknown_key_of_a_family_offers_the_nearest(tmp_path):
    assert _wrong(tmp_path, parts=PART.replace("width", "widht")) == [
        "7:56: part pad: width: missing",
        "7:82: part pad: widht: unknown key, did you mean width?",
    ]


def test_duplicate_key_is_refused(tmp_path):
    assert _wrong(tmp_path, rest="unit: in\n") == [
        "8:1: unit: said twice, first in line 3; keep one"
    ]


def test_wrong_version(tmp_path):
    assert _wrong(tmp_path, head=HEAD.replace("version: 1", "version: 2")) == [
        "1:10: version: 2 is not known, allowed: 1"
    ]


def test_wrong_unit_stops_the_reading_of_lengths(tmp_path):
    head = HEAD.replace("mm", "inches")
    assert _wrong(tmp_path, head=head, stock=BOARD.replace("40", "thick")) == [
        "3:7: unit: 'inches' is not known, allowed: mm, cm, m, in, ft"
    ]


def test_unknown_family_offers_the_nearest(tmp_path):
    assert _wrong(tmp_path, parts=PART.replace("family: block", "family: blok")) == [
        "7:25: part pad: family: 'blok' is not known, did you mean block?"
    ]


def test_parameters_that_make_no_part_are_shown_at_the_shape(tmp_path):
    assert _wrong(tmp_path, parts=PART.replace("60", "600")) == [
        "7:49: part pad: shape: a block is longer than it is wide"
    ]


def test_missing_stock_file_is_shown_where_it_is_named(tmp_path):
    assert _wrong(tmp_path, stock="  - file: deck.yaml\n") == [
        f"5:11: stock: {tmp_path / 'deck.yaml'}: there is no such file"
    ]


def test_error_in_a_stock_file_names_that_file(tmp_path):
    written(
        tmp_path, "unit: mm\nboards:\n  - {board: D, species: teak, length: 9 m}\n", "s/deck.yaml"
    )
    assert _wrong(tmp_path, stock="  - file: s/deck.yaml\n") == [
        "deck.yaml:3:5: board D: thickness: missing (as it lies, before cleaning up); give it "
        "here, or for all boards under defaults:",
        "deck.yaml:3:5: board D: width: missing (across); give it here, or for all boards under "
        "defaults:",
    ]


def test_stock_file_that_is_no_yaml_names_that_file(tmp_path):
    written(tmp_path, "unit: mm\nboards: [\n", "deck.yaml")
    (message,) = _wrong(tmp_path, stock="  - file: deck.yaml\n")
    assert message.startswith("deck.yaml:3:1: this is no YAML")


@pytest.mark.parametrize(
    ("rules", "message"),
    [
        ("{kerf: 3 in}", "8:15: kerf: 76.2 mm is more than 12 mm: is the unit right?"),
        ("{trim: -1}", "8:15: trim: -1 is below 0; a distance here must be 0 or more"),
        ("{clearances: {rott: 1}}", "8:22: clearances: 'rott' is not known, did you mean rot?"),
        ("{clearances: {metal: 1}}", "8:21: clearances: metal is kept clear of by blade_clearance; "
         "set that instead"),
        ("{plugs_per_metre: 1.5}", "8:26: plugs_per_metre: 1.5 is no whole number"),
        ("{plugs_per_metre: many}", "8:26: plugs_per_metre: 'many' is no whole number"),
        ("{slope_of_grain: 0.5}", "8:25: slope_of_grain: 0.5 is no slope of grain; write 1 in 1 or "
         "flatter, as 1 in 12"),
        ("{plugs: 3/8 in}", "8:16: plugs: '3/8 in' is no list; write [first, second]"),
        ("3", "8:8: rules: 3 is no block of keys; write key: value"),
        ("{least_offcut: [300, 60]}", "8:23: least_offcut: [300, 60] is no block of keys; write "
         "{length: ..., width: ...}"),
    ],
)  # fmt: skip
def test_wrong_rule_says_what_is_allowed(tmp_path, rules, message):
    assert _wrong(tmp_path, rest=f"rules: {rules}\n") == [message]


@pytest.mark.parametrize(
    ("key", "message"),
    [
        ("quantity: 0", "quantity: 0 is not allowed, must be at least 1"),
        ("holes: plug", "holes: 'plug' is not known, did you mean plugged?"),
        ("moisture: [18, 12]", "moisture: goes from 18 down to 12; low comes first"),
        ("moisture: [0.08, 18]", "moisture[1]: 0.08 is below 1 %; write it in percent, as 14"),
        ("moisture: [18]", "moisture: [18] is too short a list"),
        ("value: -4", "value: -4 is not allowed, must be at least 0"),
        ("value: dear", "value: 'dear' is no number"),
        ("heartwood_only: perhaps", "heartwood_only: 'perhaps' is neither true nor false"),
        ("notes: [{a: 1}]", "notes[1]: a block of keys is no text; put it in quotes if it is meant "
         "so"),
    ],
)  # fmt: skip
def test_wrong_line_of_the_parts_list_says_what_is_allowed(tmp_path, key, message):
    (found,) = _wrong(tmp_path, parts=PART.replace("shape", f"{key}, shape"))
    assert found.partition(": ")[2] == f"part pad: {message}"


def test_all_errors_come_at_once_sorted_by_place(tmp_path):
    found = _wrong(
        tmp_path,
        head=HEAD.replace("name", "nam"),
        stock=BOARD.replace("teak", "tek") + "  - just text\n",
        parts=PART.replace("300", "long") + PART.replace("pad", "pad 2").replace("block", "blok"),
        rest="outputs: {dxf: R14}\n",
    )
    assert [message.split(": ")[0] for message in found] == [
        "1:1", "2:1", "5:28", "6:5", "8:77", "9:27", "10:16"
    ]  # fmt: skip


def test_what_stands_bare_where_a_block_is_meant_is_told_how_it_is_written(tmp_path):
    text = (
        "version: 1\nname: x\nunit: mm\nstock: [boards.csv]\nparts:\n  - thwart\n"
        "boat: her.csv\nwishes: [fixed]\n"
    )
    assert findings_of(written(tmp_path, text)) == [
        "4:9: stock[1]: 'boards.csv' is no block of keys; write {file: boards.csv}",
        "6:5: parts[1]: 'thwart' is no block of keys; write {part: ..., family: ..., species: ..., "
        "shape: {...}}",
        "7:7: boat: 'her.csv' is no block of keys; write {lines: offsets.csv}",
        "8:10: wishes[1]: 'fixed' is no block of keys; write {part: ..., from: ...}",
    ]


def test_one_name_where_a_list_of_blocks_is_meant_is_told_how_it_is_written(tmp_path):
    text = "version: 1\nname: x\nunit: mm\nstock: boards.csv\nparts: []\n"
    assert findings_of(written(tmp_path, text)) == [
        "4:8: stock: 'boards.csv' is no list; write [{file: boards.csv}]",
        "5:8: parts: 0 given, must be at least 1",
    ]


def test_file_that_is_a_list_is_refused(tmp_path):
    assert findings_of(written(tmp_path, "- a\n- b\n")) == [
        "1:1: ['a', 'b'] is no block of keys; write "
        "{version: ..., name: ..., unit: ..., stock: ..., parts: ...}"
    ]


def test_name_of_a_page_is_refused(tmp_path):
    (found,) = _wrong(tmp_path, parts=PART.replace("pad", "p" * 81))
    assert found.endswith("part: 81 characters long; at most 80")


def _paths(data, path=()):
    yield path
    if isinstance(data, dict | list):
        for step, inner in data.items() if isinstance(data, dict) else enumerate(data):
            yield from _paths(inner, (*path, step))


def _with(data, path, value):
    if not path:
        return value
    copied = data.copy()
    copied[path[0]] = _with(data[path[0]], path[1:], value)
    return copied


WHOLE = yaml.safe_load(
    project_text(
        stock=BOARD.replace(
            "}",
            ", grain: 3, moisture: 12, heartwood: true, resaw: 2, count: 2, keep_outs: "
            "[{kind: hole, at: [9, 9], diameter: 5, depth: 3, confidence: 1}, {kind: split, "
            "from: [1, 1], to: [50, 5], width: 2}, {kind: rot, outline: [[9, 0], [80, 0], [80, 9]]}"
            ", {kind: hole, crossings: {first: 20, spacing: 400, insets: [20]}, diameter: 3}, "
            "{kind: hole, edge_row: {edge: lower, inset: 9, from: 9, spacing: 99}, diameter: 3}]}",
        )
        + "  - {board: W, species: teak, thickness: 40, widths: {at: [0, 900], width: [90, 80]}}\n"
        + "  - {board: X, species: teak, thickness: 40, drawing: {file: none.dxf, outline: 1}}\n",
        parts=PART.replace("shape", "moisture: [8, 20], not_from: [rail], quantity: 2, shape"),
        rest="rules: {kerf: 2, clearances: {rot: 3}, plugs: [9, 12], slope_of_grain: 12}\n"
        "outputs: {folder: out, dxf: R12}\nspecies: [pitch pine]\n",
    )
)

JUNK = [None, "", 0, -1, 10**9, 10**20, True, "x", "a\nb", "0", "1 in 12", "../x", "teak", [],
        {}, [[]], [None], {"a": 1}, [1, 2], [[1, 2], [3, 4]], 1.5,
        [[0, 0], [1, 1], [2, 2]]]  # fmt: skip


@settings(
    max_examples=150, deadline=None, suppress_health_check=[HealthCheck.function_scoped_fixture]
)
@given(path=st.sampled_from(list(_paths(WHOLE))), junk=st.sampled_from(JUNK))
def test_whatever_stands_anywhere_is_read_or_refused_with_a_place(tmp_path, path, junk):
    file = written(tmp_path, yaml.safe_dump(_with(WHOLE, path, junk)))
    with pytest.raises(ProjectFileError) as caught:  # its drawing is not there, for one thing
        read_project(file)
    for finding in caught.value.findings:
        assert finding.line >= 1
        assert finding.column >= 1
        assert "Input should" not in finding.message


RATES = "rates:\n  currency: EUR\n  wood:\n"


@pytest.mark.parametrize(
    ("wood", "says"),
    [
        ("teek", "rates: species: 'teek' is not known, did you mean teak?"),
        ("oak", "rates: species: which oak? white oak, live oak or European oak; write one"),
        ("teak|white oak", "rates: species: 'teak|white oak' is not known, did you mean"),
    ],
)
def test_price_of_a_wood_that_is_not_known_is_refused_where_it_stands(tmp_path, wood, says):
    rates = f"{RATES}    - {{species: {wood}, price: 9, per: board foot}}\n"
    (found,) = _wrong(tmp_path, rest=rates)
    assert found.startswith(f"11:17: {says}")


@pytest.mark.parametrize("more", ["", ", thickness: 52"])
def test_second_price_of_one_wood_in_one_thickness_is_refused(tmp_path, more):
    one = "    - {{species: {}, price: {}, per: board foot{}}}\n"
    rates = RATES + one.format("teak", 9, more) + one.format("Teak", 12, more)
    (found,) = _wrong(tmp_path, rest=rates)
    thickness = "every thickness" if not more else "52 mm"
    assert found == (
        f"12:17: rates: teak has a price for {thickness} already, 9 a board foot; keep one"
    )


def test_price_is_kept_under_the_name_of_its_wood_that_parts_have(tmp_path):
    rates = f"{RATES}    - {{species: TEAK, price: 9, per: m3}}\n"
    found = read_project(written(tmp_path, project_text(rest=rates))).rates
    assert found is not None
    assert found.price_of("teak", 25) is not None


@pytest.mark.parametrize("number", [1, 3])
@pytest.mark.parametrize("is_first", [True, False])
def test_part_called_as_a_piece_of_another_is_refused_with_both_places(tmp_path, number, is_first):
    several = PART.replace("family", "quantity: 3, family")
    alike = PART.replace("part: pad", f"part: 'pad, {number} of 3'")
    parts = alike + several if is_first else several + alike
    (found,) = _wrong(tmp_path, parts=parts)
    later, first = ("pad", f"pad, {number} of 3") if is_first else (f"pad, {number} of 3", "pad")
    place = f"{tmp_path}/project.yaml:7"
    assert found == (
        f"8:12: part {later}: pad, {number} of 3 would be the name of two pieces, the other one of "
        f"{first} at {place}; give another name"
    )


def test_part_called_as_no_piece_is_is_taken(tmp_path):
    parts = PART.replace("family", "quantity: 3, family") + PART.replace("pad", "'pad, 4 of 3'")
    assert len(read_project(written(tmp_path, project_text(parts=parts))).needs) == 2
