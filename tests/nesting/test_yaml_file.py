import pytest

from nesting.errors import ProjectFileError
from nesting.yaml_file.composer import MOST_REPEATED, compose
from nesting.yaml_file.document import Document, read_document, read_head
from nesting.yaml_file.scalars import as_written, scalar
from nesting.yaml_file.text import LARGEST_BYTES


def _message(text: str) -> str:
    with pytest.raises(ProjectFileError) as caught:
        compose("p.yaml", text)
    return str(caught.value)


def _read_message(path) -> str:
    with pytest.raises(ProjectFileError) as caught:
        read_document(path)
    return str(caught.value).removeprefix(str(path))


@pytest.mark.parametrize(
    "text",
    ["no", "on", "yes", "12:30", "010", "1e3", "5-7-3", "0x10", "1_000", ".inf", "2020-01-02"],
)
def test_yaml_surprise_stays_text_as_written(text):
    assert compose("p.yaml", f"a: {text}").data() == {"a": text}


@pytest.mark.parametrize(
    ("text", "value"),
    [
        ("12", 12),
        ("-3", -3),
        ("0", 0),
        ("1.50", 1.5),
        (".5", 0.5),
        ("2.", 2.0),
        ("true", True),
        ("false", False),
        ("null", None),
        ("~", None),
        ("", None),
    ],
)
def test_plain_scalar_is_number_or_word(text, value):
    found = scalar(text)
    assert found == value
    assert isinstance(found, type(value))


def test_quoted_number_is_text():
    assert compose("p.yaml", "a: '12'").data() == {"a": "12"}


def test_number_remembers_its_digits():
    assert as_written(scalar("1.10")) == "1.10"
    assert as_written(scalar("7")) == "7"


def test_number_of_thousands_of_digits_stays_text():
    assert isinstance(scalar("9" * 5000), str)


def test_key_is_text_even_if_it_looks_like_a_number():
    assert compose("p.yaml", "7: a\n1.10: b\nno: c").data() == {"7": "a", "1.10": "b", "no": "c"}


@pytest.mark.parametrize("key", ["true", "false", "null", "~"])
def test_key_is_the_word_that_was_written_whatever_it_means(key):
    assert compose("p.yaml", f"{key}: true").data() == {key: True}


def test_finding_points_at_value_or_at_key():
    document = Document("p.yaml", compose("p.yaml", "a:\n  b: [1, 22]\n"))
    assert str(document.finding(("a", "b", 1), "x")) == "p.yaml:2:10: x"
    assert str(document.finding(("a", "b"), "x", at_key=True)) == "p.yaml:2:3: x"


def test_finding_of_a_missing_key_points_at_its_parent():
    document = Document("p.yaml", compose("p.yaml", "a:\n  b: 1\n"))
    assert str(document.finding(("a", "c", 4), "x")) == "p.yaml:2:3: x"


def test_duplicate_keys_are_refused_with_both_places():
    message = _message("a: 1\nb:\n  c: 2\n  d: 3\n  c: 4\na: 5\n")
    assert message.splitlines() == [
        "p.yaml:5:3: c: said twice, first in line 3; keep one",
        "p.yaml:6:1: a: said twice, first in line 1; keep one",
    ]


def test_keys_of_the_same_letters_are_one_key():
    message = _message("b\u00e9a: [A]\nbe\u0301a: [B]\n")
    assert message == "p.yaml:2:1: b\u00e9a: said twice, first in line 1; keep one"


def test_anchor_serves_twice():
    assert compose("p.yaml", "a: &w [teak]\nb: *w").data() == {"a": ["teak"], "b": ["teak"]}


def test_merged_block_gives_way_to_own_keys():
    text = "a: &w {x: 1, y: 2}\nb: {<<: *w, y: 3}"
    assert compose("p.yaml", text).data()["b"] == {"x": 1, "y": 3}


@pytest.mark.parametrize(
    ("text", "message"),
    [
        ("", "p.yaml:1:1: the file is empty; start it with version: 1"),
        ("# only a comment\n", "p.yaml:1:1: the file is empty; start it with version: 1"),
        ("a:\n\t- b", "p.yaml:2:1: a tab; YAML wants spaces at the start of a line"),
        ("a: 1\n---\nb: 2", "p.yaml:2:1: a second document starts here (---); keep one per file"),
        ("a: *w", "p.yaml:1:4: *w names no anchor &w above it"),
        ("a: &w [1, *w]", "p.yaml:1:11: *w stands inside the very thing it names"),
        ("a: !!int 3", "p.yaml:1:4: the tag 'tag:yaml.org,2002:int' has no use here"),
        ("? [a]\n: 1", "p.yaml:1:3: a key must be a word, not a list or a block"),
        ("a: {<<: 3}", "p.yaml:1:5: <<: takes an anchored block of keys"),
        ("a: b: c", "p.yaml:1:5: this is no YAML: mapping values are not allowed"),
        ("a: 'b", "p.yaml:1:6: this is no YAML: .*a quote or a bracket is not closed"),
        ("a: 1\nb: \x07", "p.yaml:2:4: a control character (code 7); delete it"),
        ("[" * 60, "p.yaml:1:41: lists or blocks nested more than 40 deep"),
        ("[" * 100_000, "lists or blocks nested more than 40 deep"),
    ],
    ids=lambda text: text[:12],
)
def test_bad_yaml_says_what_and_where(text, message):
    found = _message(text)
    first, _, last = message.partition(".*")
    assert first in found
    assert last in found


def test_half_a_megabyte_of_aliases_is_refused_and_not_written_out():
    lines = ["a0: &a0 [x, x]"]
    while sum(map(len, lines)) < 500_000:
        i = len(lines)
        lines.append(f"a{i}: &a{i} [{', '.join([f'*a{i - 1}'] * 300)}]")
    message = _message("\n".join(lines))
    assert message.splitlines() == [
        f"p.yaml:3:5: aliases in here repeat more than {MOST_REPEATED:,} entries; write out "
        "what is meant"
    ]


def test_chain_of_anchors_cannot_nest_without_end():
    lines = ["a0: &a0 [x]", *(f"a{i}: &a{i} [*a{i - 1}]" for i in range(1, 3000))]
    assert "nested more than 40 deep" in _message("\n".join(lines))


def test_missing_file(tmp_path):
    assert _read_message(tmp_path / "p.yaml") == ":1:1: there is no such file"


def test_folder_in_place_of_a_file(tmp_path):
    assert _read_message(tmp_path) == ":1:1: is a folder; name the file in it"


def test_unreadable_file(tmp_path, monkeypatch):
    path = tmp_path / "p.yaml"
    path.write_text("a: 1")

    def refuse(*_):
        raise PermissionError(13, "Permission denied")

    # The tests may run as root, whom no permission stops.
    monkeypatch.setattr("nesting.plain_file.os.open", refuse)
    assert _read_message(path) == ":1:1: may not be read; check its permissions"


def test_file_that_is_not_utf_8_names_the_byte(tmp_path):
    path = tmp_path / "p.yaml"
    path.write_bytes(b"a: 1\nname: caf\xe9\n")
    assert _read_message(path) == ":2:10: the byte 0xe9 is not UTF-8; save the file as UTF-8"


def test_file_in_utf_16(tmp_path):
    path = tmp_path / "p.yaml"
    path.write_text("a: 1", encoding="utf-16")
    assert _read_message(path) == ":1:1: is in UTF-16; save it as UTF-8"


def test_byte_order_mark_is_passed_over(tmp_path):
    path = tmp_path / "p.yaml"
    path.write_text("a: 1", encoding="utf-8-sig")
    assert read_document(path).data == {"a": 1}


def test_huge_file_is_not_read(tmp_path):
    path = tmp_path / "p.yaml"
    with path.open("wb") as file:
        file.truncate(LARGEST_BYTES + 1)
    assert _read_message(path) == ":1:1: cannot be read: it is larger than 20 MB"


HEAD = """name: Teasel
deep: {a: [1, {b: 2}], name: no}
stock: &boards
  - {board: A}
unit: mm
"""


def test_head_is_read_without_what_lies_beside_it(tmp_path):
    (tmp_path / "head.yaml").write_text(HEAD)
    assert read_head(tmp_path / "head.yaml", "name", "unit").data == {
        "name": "Teasel",
        "unit": "mm",
    }
    whole = read_document(tmp_path / "head.yaml")
    assert whole.data.keys() == {"name", "deep", "stock", "unit"}


@pytest.mark.parametrize(
    ("more", "found"),
    [
        ("outputs: {folder: plan}\n", {"folder": "plan"}),
        ("base: &base {folder: plan}\noutputs: *base\n", {"folder": "plan"}),
        ("<<: {outputs: {folder: plan}}\n", {"folder": "plan"}),
        ("base: &base {outputs: {folder: plan}}\n<<: *base\n", {"folder": "plan"}),
        ("? [a, b]\n: c\noutputs: {folder: plan}\n", None),
    ],
)
def test_head_is_read_as_the_whole_file_is(tmp_path, more, found):
    (tmp_path / "head.yaml").write_text(HEAD + more)
    try:
        whole = read_document(tmp_path / "head.yaml").data["outputs"]
    except ProjectFileError:
        whole = None
    assert whole == found
    if found is not None:
        assert read_head(tmp_path / "head.yaml", "outputs").data["outputs"] == found


def test_head_of_a_file_that_is_no_yaml_is_refused_with_its_place(tmp_path):
    (tmp_path / "head.yaml").write_text("name: Teasel\nstock: [a\n")
    with pytest.raises(ProjectFileError, match=r"head\.yaml:\d+:\d+: this is no YAML"):
        read_head(tmp_path / "head.yaml", "name")
