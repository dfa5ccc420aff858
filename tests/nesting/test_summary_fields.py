"""Entries of a summary that somebody changed: each of its kind, and none that a terminal obeys."""

import pytest

from nesting.errors import OutputError
from nesting.read_back.figures import check_summary
from nesting.summary.fields import flag, number, rows, text, texts
from nesting.summary.file import SUMMARY, read_summary


@pytest.mark.parametrize("letter", ["\x1b", "\u202e", "\ud800", "\u200b", "\n", "\u3164"])
def test_text_that_nobody_sees_is_refused(letter):
    for read, given in ((text, f"floor{letter}"), (texts, ["floor", f"floor{letter}"])):
        with pytest.raises(ValueError, match=r"label is .*: it holds U\+") as told:
            read({"label": given}, "label")
        assert letter not in str(told.value)


@pytest.mark.parametrize("given", [None, 7, True, ["floor"]])
def test_what_is_no_text_is_refused(given):
    with pytest.raises(TypeError, match=r"label is .*, must be text"):
        text({"label": given}, "label")


def test_letters_of_every_script_are_read():
    assert text({"label": "Bodenwrange Ü 7, борт"}, "label") == "Bodenwrange Ü 7, борт"
    assert texts({"names": ["木の板", ""]}, "names") == ("木の板", "")


@pytest.mark.parametrize("read", [text, texts, number, rows, flag])
@pytest.mark.parametrize("given", [None, {"a": 1}])
def test_what_is_of_another_kind_is_told_in_words_that_are_no_programs(read, given):
    with pytest.raises(TypeError) as told:
        read({"entry": given}, "entry")
    called = "nothing" if given is None else "a block of keys"
    assert str(told.value).startswith(f"entry is {called}, must be ")


def test_summary_that_is_no_utf_8_is_told_with_the_byte(tmp_path):
    (tmp_path / SUMMARY).write_bytes(b'{"project": "\xe9"}')
    with pytest.raises(OutputError, match="cannot be read: the byte 0xe9 is not UTF-8"):
        read_summary(tmp_path)


@pytest.mark.parametrize(
    ("given", "told"),
    [
        ({"a": None}, "a is nothing, must be 3"),
        ({"a": True}, "a is true, must be 3"),
        ({"a": 3, "x" * 500: 1}, "none of a summary's entries"),
    ],
)
def test_difference_is_told_in_short_words_that_are_no_programs(given, told):
    (fault,) = check_summary(given, {"a": 3})
    assert told in str(fault) and len(str(fault)) < 200
