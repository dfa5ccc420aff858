import pytest

from nesting import errors
from nesting.errors import Finding, ProjectFileError, RefereeError, SalvageNestError


def _all_errors():
    found = [v for v in vars(errors).values() if isinstance(v, type) and issubclass(v, Exception)]
    return [error for error in found if error is not SalvageNestError]


@pytest.mark.parametrize("error", _all_errors(), ids=lambda error: error.__name__)
def test_every_error_is_ours_and_a_built_in_one(error):
    assert issubclass(error, SalvageNestError)
    assert issubclass(error, ValueError | OSError | RuntimeError)


@pytest.mark.parametrize("error", _all_errors(), ids=lambda error: error.__name__)
def test_every_error_is_drawn_in_the_tree(error):
    assert f"── {error.__name__}(" in errors.__doc__


def test_finding_prints_as_an_editor_jumps_to():
    assert (
        str(Finding("p.yaml", 12, 3, "kerf: -2 is below 0")) == "p.yaml:12:3: kerf: -2 is below 0"
    )


def test_findings_are_sorted_by_file_line_and_column():
    given = [("b", 1, 1), ("a", 10, 2), ("a", 9, 7), ("a", 10, 1)]
    error = ProjectFileError([Finding(*place, "x") for place in given])
    assert [str(finding)[:-3] for finding in error.findings] == [
        "a:9:7",
        "a:10:1",
        "a:10:2",
        "b:1:1",
    ]
    assert str(error).splitlines() == [str(finding) for finding in error.findings]


def test_referee_error_lists_every_fault():
    error = RefereeError(["a overlaps b", "c leaves its board"])
    assert error.faults == ("a overlaps b", "c leaves its board")
    assert str(error) == "a overlaps b\nc leaves its board"
