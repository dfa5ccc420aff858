"""Lettering on paper: whatever letters a name has, none comes out as an empty box."""

from __future__ import annotations

import io
import unicodedata

import numpy as np
import pdfplumber
import pypdfium2
import pytest
from fontTools.ttLib import TTFont

from nesting.faces import PLAIN_BELOW, Face, as_lettered, face_file, face_of, lacking, runs
from nesting.sheets.drawing import Anchor, Drawing, Role, Text
from nesting.sheets.lettering import text_width
from nesting.sheets.pdf import pdf_content
from nesting.sheets.picture import save_picture
from nesting.sheets.svg import svg_text

CHINESE, JAPANESE, KOREAN = "\u67da\u6728\u8239\u677f", "\u8239\u306e\u677f", "\ubc30\ud310\uc790"
HEBREW, ARABIC, GREEK = "\u05d0\u05d1\u05d2", "\u0644\u0648\u062d", "\u03c3\u03b1\u03bd"
THAI, INDIAN, SIGN = "\u0e44\u0e21\u0e49", "\u0932\u0915\u0921\u093c\u0940", "\U0001f6a2"

FOUND = [CHINESE, JAPANESE, KOREAN, HEBREW, ARABIC, GREEK, "\u042f\u043b", "\u0141\u00f3d\u017a"]
LACKED = [THAI, INDIAN, SIGN, "\U00020bb7"]


def drawing_of(*texts: Text) -> Drawing:
    return Drawing("x", texts, (0.0, 0.0, 180.0, 60.0), 1.0, "A4")


def at(text: str, y: float = 20.0, anchor: Anchor = Anchor.LEFT) -> Text:
    x = {Anchor.LEFT: 0.0, Anchor.CENTRE: 90.0, Anchor.RIGHT: 180.0}[anchor]
    return Text(text, (x, y), 5.0, Role.TITLE, anchor)


def test_plain_face_has_every_letter_that_is_not_looked_up():
    with TTFont(face_file(Face.PLAIN)) as font:
        had = set(font.getBestCmap())
    letters = map(chr, range(ord(" "), ord(PLAIN_BELOW)))
    assert [letter for letter in letters if letter.isprintable() and ord(letter) not in had] == []


@pytest.mark.parametrize("name", FOUND)
def test_a_face_has_every_letter_of(name):
    assert lacking(name) == ()
    assert as_lettered(name) == name


@pytest.mark.parametrize("name", LACKED)
def test_letters_that_no_face_has_are_written_out(name):
    said = as_lettered(f"K {name} 4")
    assert said.isascii() and said.startswith("K \\") and said.endswith(" 4")
    assert said.encode().decode("unicode_escape") == f"K {name} 4"


@pytest.mark.parametrize("name", [*FOUND, *LACKED])
def test_every_sign_in_a_pdf_is_one_that_its_face_has(name):
    """What a face lacks comes out of it as sign 0, the empty box (OpenType, table glyf)."""
    content = pdf_content([drawing_of(at(f"board {name}, 2"))])
    with pdfplumber.open(io.BytesIO(content)) as pdf:
        chars = [char for char in pdf.pages[0].chars if char["text"].strip()]
    assert {char["fontname"].partition("+")[2].replace("-", "") for char in chars} <= set(Face)
    for char in chars:
        face = Face(char["fontname"].partition("+")[2].replace("-", ""))
        with TTFont(face_file(face), lazy=True) as font:
            assert {*map(ord, char["text"])} <= set(font.getBestCmap())


@pytest.mark.parametrize(
    "names", [(CHINESE[:2], CHINESE[2:]), (THAI[:1], THAI[1:2]), ("\u6728", "\u672c")]
)
def test_different_letters_look_different_on_paper(names):
    shown = [
        np.asarray(
            pypdfium2.PdfDocument(pdf_content([drawing_of(at(name))]))[0].render(scale=4).to_pil()
        )
        for name in names
    ]
    assert all((one < 128).any() for one in shown)
    assert (shown[0] != shown[1]).any()


@pytest.mark.parametrize("names", [(CHINESE[:2], CHINESE[2:]), (THAI[:1], THAI[1:2])])
def test_different_letters_look_different_in_a_picture(names, tmp_path):
    files = [
        save_picture(drawing_of(at(name)), tmp_path / f"{number}.png")
        for number, name in enumerate(names)
    ]
    assert files[0].read_bytes() != files[1].read_bytes()


@pytest.mark.parametrize("anchor", Anchor)
@pytest.mark.parametrize("name", [*FOUND, *LACKED, f"K {CHINESE} {HEBREW} {THAI}"])
def test_lettering_stays_within_the_room_that_is_reckoned_for_it(name, anchor):
    text = at(f"{name}, 1 of 2", anchor=anchor)
    page = pypdfium2.PdfDocument(pdf_content([drawing_of(text)]))[0]
    dark = np.argwhere(np.asarray(page.render(scale=4, grayscale=True).to_numpy()) < 128)
    low_x, _, high_x, _ = ((side + 10.0) * 72 / 25.4 * 4 for side in text.box)
    assert low_x - 2 <= dark[:, 1].min() and dark[:, 1].max() <= high_x + 2


def test_letters_written_out_take_the_room_of_their_codes():
    assert text_width(THAI[0], 1.0) == text_width(as_lettered(THAI[0]), 1.0)


def test_a_browser_sets_letters_that_no_face_of_ours_has_as_wide_as_they_come():
    assert "textLength" not in svg_text(drawing_of(at(THAI)))
    assert "textLength" in svg_text(drawing_of(at(CHINESE)))


def test_a_line_is_parted_where_its_face_changes_and_nowhere_else():
    parted = [*runs(f"K 4 {CHINESE} {GREEK}")]
    assert [face for face, _ in parted] == [Face.PLAIN, Face.EASTERN, Face.PLAIN]
    assert "".join(words for _, words in parted) == f"K 4 {CHINESE} {GREEK}"


def test_chinese_japanese_and_korean_are_there_as_far_as_they_are_common():
    """The common ideographs, kana and Hangul syllables of Unicode 3.0 (its blocks, from memory)."""
    blocks = (range(0x4E00, 0x9FA6), range(0x3041, 0x3095), range(0xAC00, 0xD7A4))
    letters = [chr(code) for block in blocks for code in block]
    assert [unicodedata.name(letter) for letter in letters if face_of(letter) is None] == []
