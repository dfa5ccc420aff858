import dataclasses

import pytest
from known_hulls import single_chine, table_of

from nesting.errors import ProjectFileError, ShapeError
from nesting.units import Unit
from parts.curves import CrownShape
from parts.lines import Face, hull_of, read_table
from parts.lines.table import LineKind, Measure

CSV = """\
# an invented skiff
name, Skiff
unit, ft
to, outside of planking
planking, 3/4 in
crown span, 5 ft
crown rise, 2 in
station, 1, 2, 3
from forward, 2-0-0, 4-0-0, 6-0-0
stem, 0-0-0 4-0-0, 0-9-0 1-6-0

heights
sheer, 3-9-2, 3-6-0+, 3-5-0-
rabbet, 1-1-0, 0-10-4, 0-9-2
buttock 1-0-0, -, 1-2-5, 1-0-1
half-breadths
sheer, 1-4-2, 2-2-0, 2-5-6
rabbet, 0-1-2, 0-1-2, 0-1-2
waterline 2-0-0, 0-8-1, 1-9-7,
diagonals
diagonal A from 3-6-0 through 3-0-0 1-6-0, 1-1-1, 1-10-2, 2-3-3
"""

YAML = """\
version: 1
name: Skiff
unit: ft
to: outside of planking
planking: 3/4 in
crown_span: 5 ft
crown_rise: 2 in
station: [1, 2, 3]
from_forward: 2-0-0 4-0-0 6-0-0
stem: [[0-0-0, 4-0-0], [0-9-0, 1-6-0]]
heights:
  sheer: 3-9-2 3-6-0+ 3-5-0-
  rabbet: [1-1-0, 0-10-4, 0-9-2]
  buttock 1-0-0: . 1-2-5 1-0-1
half-breadths:
  sheer: 1-4-2 2-2-0 2-5-6
  rabbet: 0-1-2 0-1-2 0-1-2
  waterline 2-0-0: [0-8-1, 1-9-7, ~]
diagonals:
  diagonal A from 3-6-0 through 3-0-0 1-6-0: 1-1-1 1-10-2 2-3-3
"""


@pytest.fixture
def read(tmp_path):
    def read_text(text, name="skiff.csv"):
        path = tmp_path / name
        path.write_text(text, encoding="utf-8")
        return read_table(path)

    return read_text


def test_offsets_are_feet_inches_eighths_with_a_sixteenth_more_or_less(read):
    sheer = read(CSV).row(LineKind.SHEER, Measure.HEIGHT)
    # 3 ft 9 1/4 in, 3 ft 6 1/16 in, 3 ft 4 15/16 in
    assert [offset.mm for offset in sheer.offsets] == pytest.approx(
        [45.25 * 25.4, 42.0625 * 25.4, 40.9375 * 25.4]
    )


def test_figure_1_09_4_plus_is_547_6875_mm(read):
    # The notation is common practice, no source: 1-09-4+ is 1 ft 9 in and 4/8 + 1/16 in. An inch
    # is 25.4 mm exactly (international yard and pound agreement, 1959), so 21 9/16 in is this.
    table = read(CSV.replace("0-8-1, 1-9-7,", "1-09-4+, 1-9-7, -"))
    [line] = table.of_kind(LineKind.WATERLINE)
    assert line.offsets[0].mm == pytest.approx(547.6875)


def test_settings_and_lines_come_through(read):
    table = read(CSV)
    assert table.unit is Unit.FOOT
    assert (table.name, table.face, table.planking_mm) == ("Skiff", Face.OUTSIDE, 19.05)
    assert table.crown.rise_mm == 50.8
    assert table.crown.shape is CrownShape.ARC
    assert [station.name for station in table.stations] == ["1", "2", "3"]
    assert table.x == pytest.approx([609.6, 1219.2, 1828.8])
    assert table.stem == ((0.0, 1219.2), (228.6, 457.2))
    assert [line.kind for line in table.lines] == [
        LineKind.SHEER,
        LineKind.RABBET,
        LineKind.BUTTOCK,
        LineKind.SHEER,
        LineKind.RABBET,
        LineKind.WATERLINE,
        LineKind.DIAGONAL,
    ]


def test_missing_entries_are_a_dash_or_nothing(read):
    table = read(CSV)
    [buttock], [waterline] = table.of_kind(LineKind.BUTTOCK), table.of_kind(LineKind.WATERLINE)
    assert buttock.offsets[0] is None
    assert waterline.offsets[2] is None


def test_a_cell_knows_how_and_where_it_was_written(read):
    [buttock] = read(CSV).of_kind(LineKind.BUTTOCK)
    offset = buttock.offsets[1]
    assert (offset.written, offset.line, offset.column) == ("1-2-5", 15, 3)


def test_a_diagonal_is_measured_from_the_centreline_along_its_slope(read):
    [line] = read(CSV).of_kind(LineKind.DIAGONAL)
    # From 42 in up through a point 36 in out and 24 in lower: a slope of 2 in 3.
    assert line.direction == pytest.approx((3 / 13**0.5, -2 / 13**0.5))
    y, z = line.point(line.offsets[0])
    assert y**2 + (z - 42 * 25.4) ** 2 == pytest.approx((13.125 * 25.4) ** 2)


def test_yaml_says_the_same_as_csv(read):
    one, other = read(CSV), read(YAML, "skiff.yaml")
    assert other.stations == one.stations
    assert (other.stem, other.crown, other.planking_mm) == (one.stem, one.crown, one.planking_mm)
    for line, same in zip(one.lines, other.lines, strict=True):
        assert (line.title, line.origin, line.direction) == (
            same.title,
            same.origin,
            same.direction,
        )
        assert [o and (o.mm, o.written) for o in line.offsets] == [
            o and (o.mm, o.written) for o in same.offsets
        ]


@pytest.mark.parametrize(
    ("unit", "figure", "mm"),
    [
        ("ft", "2.5", 762.0),
        ("in", "30 1/4 in", 768.35),
        ("mm", "762", 762.0),
        ("m", "0.762", 762.0),
    ],
    ids=["decimal-feet", "inches", "mm", "metres"],
)
def test_decimal_feet_inches_and_millimetres_are_read(read, unit, figure, mm):
    text = CSV.replace("unit, ft", f"unit, {unit}").replace("0-8-1", figure)
    [line] = read(text).of_kind(LineKind.WATERLINE)
    assert line.offsets[0].mm == pytest.approx(mm)


@pytest.mark.parametrize(
    ("old", "new", "message"),
    [
        (
            "1-2-5, 1-0-1",
            "1-2-9, 1-0-1",
            r"skiff.csv:15:3: station 2, buttock 1-0-0: '1-2-9' is no",
        ),
        ("1-1-0, 0-10-4, 0-9-2", "1-1-0, 0-10-4", r"skiff.csv:14:1: rabbet: 2 figures for 3 stat"),
        ("unit, ft\n", "", r"skiff.csv:1:1: unit: missing"),
        ("unit, ft", "unit, feet", r"skiff.csv:3:2: unit is 'feet', must be mm or cm"),
        ("planking", "plankign", r"skiff.csv:5:1: plankign: no setting.*did you mean planking\?"),
        ("rabbet, 0-1-2, 0-1-2, 0-1-2", "rabbet, -, -, -", r"rabbet: no figures; give some, or"),
        ("4-0-0, 6-0-0", "4-0-0, 3-0-0", r"skiff.csv:9:4: station 3 stands at 3-0-0, not aft of"),
        ("station, 1, 2, 3", "station, 1, 2, 2", r"skiff.csv:8:4: station 2: there are two"),
        ("waterline 2-0-0", "buttock 2-0-0", r"skiff.csv:19:1: buttock 2-0-0: no line of half-b"),
        ("waterline 2-0-0", "waterline low", r"skiff.csv:19:1: waterline low: 'low' is no length"),
        ("rabbet, 0-1-2", "sheer, 0-1-2", r"skiff.csv:18:1: sheer: said twice"),
        (" through 3-0-0 1-6-0", "", r"skiff.csv:21:1: diagonal A from 3-6-0: say where"),
        ("0-9-0 1-6-0", "0-9-0", r"skiff.csv:10:3: stem: '0-9-0' is no point"),
        ("crown rise, 2 in\n", "", r"skiff.csv:6:2: a crown has a span and a rise"),
        ("outside of planking", "inside", r"skiff.csv:4:2: to is 'inside', must be outside of"),
        (
            "from forward, 2-0-0",
            "from forward, low",
            r"skiff.csv:9:2: station 1, from forward: 'low",
        ),
    ],
    ids=lambda value: None,
)
def test_a_mistake_is_named_with_file_line_and_column(read, old, new, message):
    assert old in CSV
    with pytest.raises(ProjectFileError, match=message):
        read(CSV.replace(old, new))


def test_all_mistakes_are_told_at_once(read):
    text = CSV.replace("1-2-5", "1-2-9").replace("3-9-2", "3-13-2")
    with pytest.raises(ProjectFileError) as caught:
        read(text)
    assert [finding.line for finding in caught.value.findings] == [13, 15]


def test_mistakes_in_yaml_have_their_place_too(read):
    with pytest.raises(ProjectFileError, match=r"skiff.yaml:14:18: station 2, buttock 1-0-0"):
        read(YAML.replace(". 1-2-5", ". 1-2-9"), "skiff.yaml")
    with pytest.raises(ProjectFileError, match=r"skiff.yaml:1:10: version is 2, must be 1"):
        read(YAML.replace("version: 1", "version: 2"), "skiff.yaml")
    with pytest.raises(ProjectFileError, match=r"skiff.yaml:3:1: units: no setting"):
        read(YAML.replace("unit: ft", "units: ft"), "skiff.yaml")
    with pytest.raises(ProjectFileError, match=r"heights: takes a block of lines"):
        read("unit: ft\nstation: 1 2\nfrom forward: 1 2\nheights: 3-1-2\n", "skiff.yaml")


def test_a_file_of_another_kind_is_refused(read):
    with pytest.raises(ProjectFileError, match=r"a .csv or a .yaml file, not '.xlsx'"):
        read(CSV, "skiff.xlsx")


def test_an_absent_file_is_named(tmp_path):
    with pytest.raises(ProjectFileError, match=r"none.csv:1:1: there is no such file"):
        read_table(tmp_path / "none.csv")


def test_half_breadths_measured_inward_are_refused_as_a_whole(read):
    """Where most are below 0, their signs are told once."""
    inward = CSV.replace("1-4-2, 2-2-0, 2-5-6", "-1-4-2, -2-2-0, -2-5-6")
    inward = inward.replace("1-1-1, 1-10-2, 2-3-3", "-1-1-1, -1-10-2, -2-3-3")
    with pytest.raises(ProjectFileError, match=r"-1-4-2: 6 of 11 half-breadths are below 0; they"):
        read(inward)


@pytest.mark.parametrize(
    ("old", "new", "message"),
    [
        (
            "1-9-7,",
            "-1-9-7,",
            r":19:3: station 2, waterline 2-0-0: -1-9-7 is below 0; .*read 1-9-7;",
        ),
        ("0-8-1, 1", "-0-8-1, -1", r":19:2: station 1, .*: -0-8-1 is below 0 .2 figures of the"),
        ("1-1-1, 1", "1-1-1, -1", r":21:3: station 2, diagonal A: -1-10-2 is below 0"),
        ("3/4 in", "3 ft", r":5:2: planking is 3 ft, more than an eighth .* 2-5-6; at most 0-3-6:"),
        ("1, 2, 3", "1, -, 3", r":8:3: station: '-' is no name; number 2 of them needs one, as 2"),
        ("1, 2, 3", "1, , 3", r":8:3: station: '' is no name"),
    ],
    ids=["inward", "two inward", "diagonal inward", "planking", "dash", "no name"],
)
def test_what_cannot_be_is_refused_at_its_place(read, old, new, message):
    assert old in CSV
    with pytest.raises(ProjectFileError, match=message):
        read(CSV.replace(old, new))


def test_heights_below_the_base_are_read(read):
    """The base line may lie anywhere: a load waterline, with her keel below it."""
    table = read(CSV.replace("1-1-0, 0-10-4, 0-9-2", "1-1-0, 0-10-4, -0-9-2"))
    assert table.row(LineKind.RABBET, Measure.HEIGHT).offsets[2].mm == pytest.approx(-234.95)


def test_rows_of_sheer_and_rabbet_exchanged_are_refused_and_a_single_figure_is_not(read):
    heights = ("sheer, 3-9-2, 3-6-0+, 3-5-0-", "rabbet, 1-1-0, 0-10-4, 0-9-2")
    turned = [line.replace("sheer", "?").replace("rabbet", "sheer") for line in heights]
    text = CSV.replace(heights[0], turned[0].replace("?", "rabbet")).replace(
        *(heights[1], turned[1])
    )
    with pytest.raises(
        ProjectFileError,
        match=r"csv:13:2: rabbet height: it lies above the sheer at 3 of 3 stations: are the rows",
    ):
        read(text)
    assert read(CSV.replace("rabbet, 1-1-0", "rabbet, 5-1-0")).stations


def test_a_station_without_a_figure_is_refused(read):
    rows = [line.replace("1-9-7,", "1-9-7, -").split(", ") for line in CSV.splitlines()]
    first = next(n for n, row in enumerate(rows) if row[0] == "heights")
    for row in rows[first:]:
        if len(row) > 2:
            row[2] = "-"
    text = "\n".join(", ".join(row) for row in rows)
    with pytest.raises(ProjectFileError, match=r"csv:8:3: station 2: no line has a figure there"):
        read(text)


@pytest.mark.parametrize("place", [-600.0, 60_000.0])
def test_a_knuckle_beyond_the_rabbet_is_refused_in_words(place):
    table = dataclasses.replace(table_of(single_chine()), knuckles=((place, 300.0),))
    with pytest.raises(ShapeError, match="lies beyond the rabbet, which runs from"):
        hull_of(table)


@pytest.mark.parametrize("separator", [";", "\t"], ids=["semicolons", "tabs"])
@pytest.mark.parametrize("is_said", [False, True])
def test_table_saved_with_another_separator_is_the_same_table(tmp_path, separator, is_said):
    plain = tmp_path / "lines.csv"
    plain.write_text(CSV, encoding="utf-8")
    other = tmp_path / "other.csv"
    said = f"sep={separator}\n" if is_said else ""
    other.write_text(said + CSV.replace(",", separator), encoding="utf-8")
    expected, found = read_table(plain), read_table(other)
    assert [station.x_mm for station in found.stations] == [609.6, 1219.2, 1828.8]
    assert figures(found) == figures(expected)
    assert found.stem == expected.stem


def figures(table):
    return [[offset and offset.mm for offset in line.offsets] for line in table.lines]


@pytest.mark.parametrize(
    ("old", "new", "message"),
    [
        ("planking, 3/4 in", "planking, 22,5 mm", ":5:3: planking: 2 cells are given, 22, 5 mm; "),
        ("crown rise, 2 in", "crown rise, 1,5", ":7:3: crown rise: 2 cells are given, 1, 5; "),
        ("unit, ft", "unit, ft, in", ":3:3: unit: 2 cells are given, ft, in; must be one"),
    ],
)
def test_setting_of_two_cells_is_told_and_not_cut_to_the_first(read, old, new, message):
    with pytest.raises(ProjectFileError) as caught:
        read(CSV.replace(old, new))
    assert message in str(caught.value)


def test_comma_in_the_name_is_of_the_name(read):
    assert read(CSV.replace("Skiff", "Skiff, as built")).name == "Skiff, as built"


@pytest.mark.parametrize(
    ("line", "again"),
    [
        ("waterline 2-0-0", "waterline 24 in, 0-8-1, 1-10-7, 2-3-0"),
        ("buttock 1-0-0", "buttock 12 in, -, 1-2-5, 1-0-1"),
        ("diagonal A", "diagonal B from 42 in through 6-0-0 -0-6-0, 1-1-1, 1-10-2, 2-3-3"),
    ],
)
def test_line_that_stands_where_another_does_is_told(read, line, again):
    rows = [row + "\n" + again if row.startswith(line) else row for row in CSV.splitlines()]
    with pytest.raises(ProjectFileError) as caught:
        read("\n".join(rows))
    (found,) = caught.value.findings
    assert f" is {line}" in found.message and found.message.endswith(" again; keep one")


def test_more_lines_than_any_table_has_are_refused(read):
    rows = CSV.replace(
        "diagonals", "".join(f"waterline {n} in, , 1-9-7, \n" for n in range(3, 203)) + "diagonals"
    )
    with pytest.raises(ProjectFileError) as caught:
        read(rows)
    (found,) = caught.value.findings
    assert found.message == "207 lines, at most 200: is this one table?"


@pytest.mark.parametrize(
    "old", ["unit", "ft", "station", "waterline", "diagonal A", "buttock 1-0-0"]
)
def test_words_without_end_are_told_short(read, old):
    with pytest.raises(ProjectFileError) as caught:
        read(CSV.replace(old, "x" * 5000, 1))
    assert max(len(found.message) for found in caught.value.findings) < 400
