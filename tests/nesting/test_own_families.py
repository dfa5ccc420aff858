"""Part families of one's own: run by consent only, then as good as any, their faults placed."""

import json
import os
import pty
import subprocess
import sys
from importlib.metadata import EntryPoint
from pathlib import Path

import jsonschema
import pytest
from project_texts import BOARD, HEAD, findings_of, written

from nesting import cli, consent
from nesting.errors import ProjectFileError
from nesting.project import project_schema, read_project
from nesting.project.own_families import families_of
from nesting.remarks import REMARKS, remarks
from nesting.remarks.outline_and_solid import outline_and_solid
from nesting.yaml_file.document import read_document
from parts import own_code, registry

ROOT = Path(__file__).parents[2]

LIDS = '''from nesting import Family, Outline, PartError
from nesting.fields import Size
from shapely.geometry import Point


class RoundLid(Family):
    """A round lid."""

    family = "round lid"
    across_mm: Size
    thickness_mm: Size

    def outline(self):
        if self.across_mm < 20:
            raise PartError("a lid is 20 mm across or more")
        if self.across_mm > 140:
            raise KeyError("no such lid")
        return Outline(Point(0, 0).buffer(self.across_mm / 2), self.thickness_mm)

    def solid(self):
        import cadquery as cq

        return cq.Workplane().circle(self.across_mm / 2).extrude(self.thickness_mm / 0)
'''
LINE_OF_KEY_ERROR, LINE_OF_SOLID = 17, 23


@pytest.fixture(autouse=True)
def state(tmp_path, monkeypatch):
    """A state folder of the test's own."""
    monkeypatch.setenv("XDG_STATE_HOME", str(tmp_path / "state"))
    monkeypatch.setattr(sys, "platform", "linux")
    return tmp_path / "state" / "salvage-nest" / consent.ALLOWED


def project(tmp_path, *, lids=LIDS, shape="{across: 80, thickness: 20}", family="round lid"):
    """Write a project of one lid with its family beside it, and return its path."""
    (tmp_path / "lids.py").write_text(lids)
    text = (
        f"{HEAD}families: [lids.py]\nstock:\n{BOARD}parts:\n"
        f"  - {{part: lid, family: {family}, species: teak, shape: {shape}}}\n"
    )
    return written(tmp_path, text)


def agreed(path, content):
    return True


def test_code_that_nobody_allowed_does_not_run(tmp_path):
    path = project(tmp_path, lids="open('ran', 'w')\n" + LIDS)
    (finding,) = findings_of(path)
    assert finding.startswith("4:")
    assert "families: lids.py is code that comes with this project, and nobody has" in finding
    assert "--allow-code" in finding
    assert not Path("ran").exists()


def test_allowed_by_the_flag_it_is_remembered_by_its_content(tmp_path, capsys, state):
    path = project(tmp_path)
    assert cli.main(["check", str(path)]) == cli.PROJECT_WRONG
    assert not state.exists()
    assert cli.main(["check", str(path), "--allow-code"]) == 0
    assert cli.main(["check", str(path)]) == 0
    content = (tmp_path / "lids.py").read_bytes()
    assert list(json.loads(state.read_text())["allowed"]) == [consent.hash_of(content)]
    assert state.stat().st_mode & 0o077 == 0
    (tmp_path / "lids.py").write_bytes(content + b"# changed\n")
    capsys.readouterr()
    assert cli.main(["check", str(path)]) == cli.PROJECT_WRONG
    assert "nobody has allowed it" in capsys.readouterr().err
    (tmp_path / "lids.py").write_bytes(content)
    assert cli.main(["check", str(path)]) == 0


@pytest.mark.parametrize("kept", ["", "{", "[]", '{"allowed": []}', '{"allowed": {"0": 1}}'])
def test_consents_that_cannot_be_read_allow_nothing(tmp_path, state, kept):
    state.parent.mkdir(parents=True)
    state.write_text(kept)
    assert len(findings_of(project(tmp_path))) == 1


@pytest.mark.parametrize(
    ("platform", "variables", "folder"),
    [
        ("linux", {"XDG_STATE_HOME": "/s"}, "/s/salvage-nest"),
        ("linux", {"XDG_STATE_HOME": "s", "HOME": "/h"}, "/h/.local/state/salvage-nest"),
        ("darwin", {"HOME": "/h"}, "/h/Library/Application Support/salvage-nest"),
        ("win32", {"LOCALAPPDATA": "/l"}, "/l/salvage-nest"),
    ],
)
def test_consents_stand_where_the_platform_keeps_such_things(
    monkeypatch, platform, variables, folder
):
    monkeypatch.setattr(sys, "platform", platform)
    for name, value in variables.items():
        monkeypatch.setenv(name, value)
    assert str(consent.state_folder()) == folder


def asked_on_a_terminal(path, answer):
    """Run a check on a terminal of its own, answer its question, and return code and output."""
    ours, theirs = pty.openpty()
    code = f"import sys; from nesting.cli import main; sys.exit(main(['check', {str(path)!r}]))"
    running = subprocess.Popen(
        [sys.executable, "-c", code], stdin=theirs, stdout=theirs, stderr=theirs,
        env={**os.environ, "PYTHONPATH": str(ROOT)},
    )  # fmt: skip
    os.close(theirs)
    shown = b""
    while b"[y/N]" not in shown and (read := _read(ours)):
        shown += read
    os.write(ours, answer.encode() + b"\n")
    while read := _read(ours):
        shown += read
    os.close(ours)
    return running.wait(), shown.decode()


def _read(terminal):
    try:
        return os.read(terminal, 4096)
    except OSError:  # Its other end is closed.
        return b""


def test_on_a_terminal_one_is_asked_once(tmp_path):
    path = project(tmp_path)
    code, shown = asked_on_a_terminal(path, "n")
    assert code == cli.PROJECT_WRONG
    assert "lids.py (24 lines) is code that comes with this project" in shown
    code, shown = asked_on_a_terminal(path, "y")
    assert code == 0
    assert cli.main(["check", str(path)]) == 0


def test_it_is_used_like_any_other(tmp_path, capsys):
    read = read_project(project(tmp_path), consent=agreed)
    (need,) = read.needs
    assert (need.part, need.family, need.outline.siding_mm) == ("lid", "round lid", 20)
    path = project(tmp_path, shape="{acros: 80, thickness: 20}")
    said = [finding.message for finding in _findings(path)]
    assert "part lid: acros: unknown key, did you mean across?" in said


def test_lists_and_schema_have_it(tmp_path, capsys):
    path = project(tmp_path)
    assert cli.main(["families", "--project", str(path), "--allow-code"]) == 0
    assert "round lid" in capsys.readouterr().out
    assert cli.main(["families", "round lid", "--project", str(path)]) == 0
    assert "across" in capsys.readouterr().out
    assert cli.main(["schema", "--project", str(path)]) == 0
    schema = json.loads(capsys.readouterr().out)
    data = read_document(path).data
    assert jsonschema.Draft202012Validator(schema).is_valid(data)
    assert not jsonschema.Draft202012Validator(project_schema()).is_valid(data)
    data["parts"][0]["shape"]["acros"] = 3
    assert not jsonschema.Draft202012Validator(schema).is_valid(data)


def test_class_called_as_one_of_ours_has_a_definition_of_its_own_in_the_schema(tmp_path):
    path = project(tmp_path, lids=LIDS.replace("class RoundLid", "class Knee"))
    known = families_of(path, agreed)
    schema = project_schema(known)
    jsonschema.Draft202012Validator.check_schema(schema)
    assert jsonschema.Draft202012Validator(schema).is_valid(read_document(path).data)


def _findings(path):
    with pytest.raises(ProjectFileError) as caught:
        read_project(path, consent=agreed)
    return caught.value.findings


def test_what_it_refuses_is_said_as_any_family_says_it(tmp_path):
    (finding,) = _findings(project(tmp_path, shape="{across: 10, thickness: 20}"))
    assert finding.message == "part lid: shape: a lid is 20 mm across or more"


def test_fault_in_it_names_file_line_and_part(tmp_path):
    (finding,) = _findings(project(tmp_path, shape="{across: 145, thickness: 20}"))
    assert Path(finding.file).name == "project.yaml"
    assert finding.line == 8
    assert finding.message == (
        f"part lid: family round lid failed: lids.py:{LINE_OF_KEY_ERROR}: KeyError: 'no such lid'"
    )


def test_fault_in_its_solid_names_file_line_and_part(tmp_path, capsys):
    path = project(tmp_path)
    given = ["solids", str(path), "--allow-code", "-o", str(tmp_path / "out")]
    assert cli.main(given) == cli.PROJECT_WRONG
    assert (
        f"part lid: family round lid failed: lids.py:{LINE_OF_SOLID}: ZeroDivisionError"
        in capsys.readouterr().err
    )


SOUND = LIDS.replace(" / 0)", ")")


@pytest.mark.parametrize(
    ("lids", "said"),
    [
        (SOUND, None),
        (
            SOUND.replace("buffer(self.across_mm / 2)", "buffer(self.across_mm / 2 / 4)"),
            "its outline is 20 mm x 20 mm x 20 mm with the thickness, and its solid 80 mm x 80 mm "
            "x 20 mm: both must be of one piece, in mm",
        ),
        (SOUND.replace("extrude(", "extrude(25.4 * "), "and its solid 80 mm x 80 mm x 508 mm"),
        (LIDS, f"family round lid failed: lids.py:{LINE_OF_SOLID}: ZeroDivisionError"),
        (SOUND.replace("return cq.Workplane().circle", "return [1]\n        cq.Workplane().circle"),
         "a list is no solid: give a cadquery Workplane or Shape"),
    ],
    ids=["sound", "outline small", "thick", "fails", "no solid"],
)  # fmt: skip
def test_outline_and_solid_that_are_not_of_one_piece_are_told_by_check(tmp_path, lids, said):
    found = read_project(project(tmp_path, lids=lids), consent=agreed)
    (finding,) = remarks(found, [outline_and_solid]) or [None]
    assert (finding is None) == (said is None)
    if finding is not None:
        assert finding.message.startswith("part lid: ")
        assert said in finding.message
        assert finding.line == 8
    assert outline_and_solid in REMARKS


def test_empty_outline_is_said_to_be_empty(tmp_path):
    lids = LIDS.replace("buffer(self.across_mm / 2)", "buffer(0)")
    with pytest.raises(ProjectFileError, match="is not usable: it is empty, and encloses no wood"):
        read_project(project(tmp_path, lids=lids), consent=agreed)


CHECKED = '''from pydantic import model_validator


class Lid(RoundLid):
    """A lid."""

    family = "lid"

    @model_validator(mode="after")
    def _fits(self):
        {slip}
        return self
'''


@pytest.mark.parametrize(
    ("slip", "said"),
    [
        ("int('x')", "lids.py:35: invalid literal for int"),
        ("self.acros", "lids.py:35: AttributeError"),
        ("raise ValueError('too round')", "lids.py:35: too round"),
    ],
)
def test_slip_in_a_check_of_its_own_names_file_line_and_part(tmp_path, slip, said):
    lids = f"{LIDS}\n{CHECKED.format(slip=slip)}"
    (finding,) = _findings(project(tmp_path, lids=lids, family="lid"))
    assert finding.message.startswith("part lid: ")
    assert said in finding.message


@pytest.mark.parametrize(
    ("lids", "said"),
    [
        ("def outline(:\n", "lids.py:1: invalid syntax"),
        ("import os\n\nimport no_such_module\n", "lids.py:3: ModuleNotFoundError"),
        ("x = 1\n", "defines no part family"),
        ("1 / 0\n", "lids.py:1: ZeroDivisionError"),
        (LIDS.replace("def solid", "def solod"), "lids.py:6: RoundLid lacks solid()"),
        (LIDS.replace('    """A round lid."""\n', ""), "lids.py:6: RoundLid has no docstring"),
        (LIDS.replace('"round lid"', '""'), "lids.py:6: RoundLid has no name in family"),
        (LIDS.replace('"round lid"', '"knee"'), "there is a family knee already"),
        ("x = 1\0\n", "cannot be run"),
    ],
)  # fmt: skip
def test_file_that_cannot_be_used_is_one_finding_with_its_place(tmp_path, lids, said):
    (finding,) = _findings(project(tmp_path, lids=lids))
    assert finding.line == 4
    assert said in finding.message


@pytest.mark.parametrize(
    ("name", "said"),
    [("gone.py", "there is no file"), ("lids.txt", "no Python file"), (".", "no Python file")],
)
def test_name_that_is_no_file_of_code_is_refused(tmp_path, name, said):
    path = project(tmp_path)
    (tmp_path / "lids.txt").write_text(LIDS)
    path.write_text(path.read_text().replace("[lids.py]", name))
    (finding,) = _findings(path)
    assert said in finding.message


class Tray(own_code.Family):
    """A tray, of an installed package."""

    family = "tray"

    def outline(self):
        raise NotImplementedError

    def solid(self):
        raise NotImplementedError


@pytest.fixture
def packages(monkeypatch):
    """Have packages installed that offer a good family, one that cannot be loaded, and more."""
    here = Tray.__module__
    points = [
        EntryPoint("tray", f"{here}:Tray", own_code.GROUP),
        EntryPoint("hatch", "no_such_package:Hatch", own_code.GROUP),
        EntryPoint("other tray", f"{here}:Tray", own_code.GROUP),
        EntryPoint("number", f"{here}:LINE_OF_SOLID", own_code.GROUP),
    ]
    monkeypatch.setattr(own_code, "entry_points", lambda group: points)
    for cached in (own_code.installed, registry.known_families):
        cached.cache_clear()
    yield
    monkeypatch.undo()
    for cached in (own_code.installed, registry.known_families):
        cached.cache_clear()


def test_families_of_installed_packages_are_known(packages, capsys):
    known = registry.known_families()
    assert known.plain["tray"] is Tray
    assert sorted(known.unusable) == ["hatch", "number", "other tray"]
    assert cli.main(["families"]) == 0
    told = capsys.readouterr().out
    assert "A tray, of an installed package" in told
    assert "cannot be used: comes with no_such_package, which cannot be loaded" in told


def test_installed_family_that_cannot_be_loaded_is_told_where_it_is_named(packages, tmp_path):
    (finding,) = _findings(project(tmp_path, family="hatch"))
    assert "family: hatch comes with no_such_package, which cannot be loaded" in finding.message
    assert "ModuleNotFoundError" in finding.message


HALF_A_HATCH = """\
import nesting


class Hatch(nesting.Family):
    family = "hatch"
"""


@pytest.mark.parametrize(
    ("offered", "said"),
    [
        ("no_such_package:Hatch", "cannot be loaded: ModuleNotFoundError: No module named"),
        ("hatches:Hatch", "cannot be loaded: AttributeError: module 'hatches' has no attribute"),
        ("hatch_lids:Hatch", "cannot be loaded: hatch_lids.py:2: NameError: name 'nonsense'"),
        ("hatch_needs:Hatch", "cannot be loaded: hatch_needs.py:1: ModuleNotFoundError"),
        ("hatchery:Hatch", "cannot be loaded: hatchery/__init__.py:1: NameError: name 'egg'"),
        ("hatchery_of_one:Hatch", "cannot be used: hatchery_of_one/__init__.py:4: Hatch lacks"),
    ],
)
def test_place_told_of_a_package_that_cannot_be_loaded_is_its_own_or_none(
    tmp_path, monkeypatch, offered, said
):
    """Not a place in what loads it: nobody can mend anything there."""
    (tmp_path / "hatches.py").write_text("x = 1\n")
    (tmp_path / "hatch_lids.py").write_text("x = 1\nnonsense\n")
    (tmp_path / "hatch_needs.py").write_text("import no_such_module\n")
    for name, code in (("hatchery", "egg\n"), ("hatchery_of_one", HALF_A_HATCH)):
        (tmp_path / name).mkdir()
        (tmp_path / name / "__init__.py").write_text(code)
    monkeypatch.syspath_prepend(tmp_path)
    points = [EntryPoint("hatch", offered, own_code.GROUP)]
    monkeypatch.setattr(own_code, "entry_points", lambda group: points)
    (error,) = own_code.installed.__wrapped__().values()
    assert said in str(error)


@pytest.mark.parametrize("raised", ["SystemExit(0)", "Spoilt()", "RecursionError", "GeneratorExit"])
@pytest.mark.parametrize("when", ["on loading", "in its outline"])
def test_code_that_ends_the_program_is_told_with_its_line(tmp_path, capsys, raised, when):
    """A run that ended with 0 and wrote nothing had said nothing either."""
    says = "def __str__(self):\n        raise ValueError('no words')"
    spoilt = f"class Spoilt(Exception):\n    {says}\n\n\n"
    code = spoilt + LIDS.replace('raise KeyError("no such lid")', f"raise {raised}")
    if when == "on loading":
        code += f"\n\nraise {raised}\n"
    path = written(tmp_path, own_project(code, tmp_path, across=150))
    assert cli.main(["check", str(path), "--allow-code"]) == cli.PROJECT_WRONG
    said = capsys.readouterr().err
    assert "lids.py:" in said and raised.removesuffix("()").removesuffix("(0)") in said


def own_project(code, folder, *, across):
    """Return a project of one lid, its family written beside it."""
    (folder / "lids.py").write_text(code)
    part = f"  - {{part: lid, family: round lid, species: teak, shape: {{across: {across}, thickness: 20}}}}\n"  # noqa: E501
    return f"{HEAD}families: lids.py\nstock:\n{BOARD}parts:\n{part}"


def test_parameter_that_its_own_code_sets_is_told_with_its_line(tmp_path):
    setting = "        self.across_mm = 4\n        return Outline("
    (found,) = _findings(project(tmp_path, lids=LIDS.replace("        return Outline(", setting)))
    line = 1 + LIDS[: LIDS.index("        return Outline(")].count("\n")
    assert f"round lid failed: lids.py:{line}: ValidationError" in found.message


def test_name_of_a_family_that_nobody_sees_is_refused(tmp_path, capsys):
    code = LIDS.replace('"round lid"', '"round lid\\x1b[31m"')
    path = written(tmp_path, own_project(code, tmp_path, across=100))
    assert cli.main(["check", str(path), "--allow-code"]) == cli.PROJECT_WRONG
    said = capsys.readouterr().err
    assert "holds U+001B (escape), which nobody sees" in said and "\x1b" not in said
