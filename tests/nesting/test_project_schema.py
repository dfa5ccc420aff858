import jsonschema
import pytest
from project_texts import BOARD, HEAD, PART, Block, project_text, written

from nesting.errors import ProjectFileError
from nesting.project import project_schema, read_project, stock_schema
from nesting.yaml_file.document import read_document
from parts.registry import Families, families, fitted_families


def _accepts(schema, path) -> bool:
    return jsonschema.Draft202012Validator(schema).is_valid(read_document(path).data)


@pytest.fixture
def with_blocks(monkeypatch):
    known = Families({**families(), "block": Block}, fitted_families())
    monkeypatch.setattr("nesting.project.own_families.known_families", lambda: known)
    monkeypatch.setattr("nesting.project.schema.known_families", lambda: known)


def test_schemas_are_valid_themselves():
    jsonschema.Draft202012Validator.check_schema(project_schema())
    jsonschema.Draft202012Validator.check_schema(stock_schema())


def test_every_family_has_its_parameters_described():
    definitions = project_schema()["$defs"]
    for name, family in families().items():
        (part,) = [
            found
            for found in definitions.values()
            if found.get("properties", {}).get("family", {}).get("const") == name
            and "at" not in found["properties"]
        ]
        shape = definitions[part["properties"]["shape"]["$ref"].rpartition("/")[2]]
        assert part["properties"]["family"]["description"] == shape["description"]
        assert set(shape["properties"]) == {f.alias for f in family.model_fields.values()}


def test_length_says_its_default_with_a_unit():
    """A bare number there would be taken in the project's unit by whoever copies it."""

    def lengths(schema):
        if isinstance(schema, dict):
            if "5-7-3" in schema.get("examples", ()) and "default" in schema:
                yield schema["default"]
            for inner in schema.values():
                yield from lengths(inner)
        elif isinstance(schema, list):
            for inner in schema:
                yield from lengths(inner)

    found = [default for default in lengths(project_schema()) if default is not None]
    assert found
    assert all(str(default).endswith(" mm") for default in found)


GOOD = {
    "smallest": project_text(),
    "rules": project_text(
        rest="rules: {kerf: 1/8 in, clearances: {worn edge: 2}, plugs: [10, 1/2 in], "
        "least_offcut: {length: 1 ft, width: 3 in}, slope_of_grain: 1 in 10}\n"
    ),
    "board names as numbers": project_text(stock=BOARD.replace("D-01", "12")),
    "keep-outs": project_text(
        stock=BOARD.replace(
            "}",
            ", grain: [[0, 0], [900, 9]], keep_outs: [{kind: hole, at: [9, 9], diameter: 2}, "
            "{kind: split, from: [9, 9], to: [80, 9], width: 2}, {kind: rot, outline: [[0, 0], "
            "[9, 0], [9, 9]]}, {kind: hole, crossings: {first: 90, spacing: 400, insets: [20]}, "
            "diameter: 6}, {kind: hole, edge_row: {edge: lower, inset: 9, from: 9, spacing: 99}, "
            "diameter: 3}]}",
        )
    ),
    "widths": project_text(
        stock="  - {board: D, species: teak, thickness: 40, resaw: 2, count: 2, "
        "widths: {at: [0, 900], width: [90, 80]}}\n"
    ),
    "one species, not in a list": project_text(parts=PART.replace("[teak]", "teak")),
    "outputs": project_text(rest="outputs: {folder: ../sheets, dxf: R12}\n"),
}

BAD = {
    "no parts": f"{HEAD}stock:\n{BOARD}",
    "no boards": f"{HEAD}stock: []\nparts:\n{PART}",
    "version": project_text(head=HEAD.replace("version: 1", "version: 2")),
    "unit": project_text(head=HEAD.replace("mm", "inches")),
    "unknown key": project_text(rest="kerf: 3\n"),
    "key with its unit": project_text(rest="rules: {kerf_mm: 3}\n"),
    "unknown key of a board": project_text(stock=BOARD.replace("width", "widht")),
    "unknown key of a shape": project_text(parts=PART.replace("width", "widht")),
    "unknown family": project_text(parts=PART.replace("block", "blok")),
    "shape of another family": project_text(parts=PART.replace("family: block", "family: knee")),
    "shape not given": project_text(parts="  - {part: a, family: block, species: teak}\n"),
    "no thickness": project_text(stock=BOARD.replace("thickness: 40, ", "")),
    "two forms": project_text(stock=BOARD.replace("}", ", outline: [[0, 0], [9, 0], [9, 9]]}")),
    "kind": project_text(
        stock=BOARD.replace("}", ", keep_outs: [{kind: worm, at: [9, 9], diameter: 2}]}")
    ),
    "keep-out of two forms": project_text(
        stock=BOARD.replace(
            "}", ", keep_outs: [{kind: rot, at: [9, 9], outline: [[0, 0], [9, 0], [9, 9]]}]}"
        )
    ),
    "point of three": project_text(
        stock=BOARD.replace("}", ", keep_outs: [{kind: rot, at: [9, 9, 9], diameter: 2}]}")
    ),
    "holes": project_text(parts=PART.replace("shape", "holes: some, shape")),
    "quantity": project_text(parts=PART.replace("shape", "quantity: 0, shape")),
    "quantity in parts": project_text(parts=PART.replace("shape", "quantity: 1.5, shape")),
    "dxf": project_text(rest="outputs: {dxf: R14}\n"),
    "clearance": project_text(rest="rules: {clearances: {rott: 1}}\n"),
    "resaw": project_text(stock=BOARD.replace("}", ", resaw: 13}")),
    "moisture": project_text(stock=BOARD.replace("}", ", moisture: wet}")),
}


@pytest.mark.parametrize("text", GOOD.values(), ids=GOOD)
def test_schema_and_reader_both_accept(with_blocks, tmp_path, text):
    path = written(tmp_path, text)
    assert read_project(path).stock
    assert _accepts(project_schema(), path)


@pytest.mark.parametrize("text", BAD.values(), ids=BAD)
def test_schema_and_reader_both_refuse(with_blocks, tmp_path, text):
    path = written(tmp_path, text)
    with pytest.raises(ProjectFileError):
        read_project(path)
    assert not _accepts(project_schema(), path)


STOCK = {
    "defaults": ("defaults: {species: teak, thickness: 40}\nboards: [{board: A, length: 1 m, "
                 "width: 90}]\n", True),
    "no name": ("boards: [{length: 1 m, width: 90, species: teak, thickness: 40}]\n", False),
    "unknown key": ("boards: [{board: A, lenght: 1 m, width: 90, species: teak, thickness: 40}]\n",
                    False),
    "unknown default": ("defaults: {specis: teak}\nboards: [{board: A, length: 1 m, width: 90, "
                        "species: teak, thickness: 40}]\n", False),
    "no boards": ("boards: []\n", False),
}  # fmt: skip


@pytest.mark.parametrize(("text", "is_good"), STOCK.values(), ids=STOCK)
def test_schema_and_reader_agree_on_stock_files(with_blocks, tmp_path, text, is_good):
    path = written(tmp_path, f"unit: mm\n{text}", "deck.yaml")
    project = written(tmp_path, project_text(stock="  - file: deck.yaml\n"))
    assert _accepts(stock_schema(), path) is is_good
    if is_good:
        assert read_project(project).stock
    else:
        with pytest.raises(ProjectFileError, match=r"deck\.yaml:\d+:\d+: "):
            read_project(project)


def test_demo_files_are_accepted(request):
    demos = request.config.rootpath / "demo_projects"
    for path in sorted(demos.glob("*/**/*.yaml")):
        if "members" in read_document(path).data:
            continue  # an old boat, for judging
        schema = project_schema() if "parts" in read_document(path).data else stock_schema()
        errors = list(jsonschema.Draft202012Validator(schema).iter_errors(read_document(path).data))
        assert errors == [], path
