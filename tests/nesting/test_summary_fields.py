"""Entries of a summary that somebody changed: each of its kind, and none that a terminal obeys."""

import pytest

from nesting.summary.fields import text, texts


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
