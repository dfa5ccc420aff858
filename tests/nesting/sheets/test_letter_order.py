"""Names that are read from the right, as they stand on paper."""

import io
import unicodedata

import pypdfium2
import pytest
from matplotlib import get_data_path
from matplotlib.ft2font import FT2Font

from nesting.sheets.drawing import Drawing, Role, Text
from nesting.sheets.joined_letters import joined
from nesting.sheets.letter_order import as_seen
from nesting.sheets.pdf import pdf_content

ALEF, BET, GIMEL, POINT = "\u05d0", "\u05d1", "\u05d2", "\u05b8"


@pytest.mark.parametrize(
    ("written", "seen"),
    [
        ("stern post, 1 of 2", "stern post, 1 of 2"),
        (ALEF + BET + GIMEL, GIMEL + BET + ALEF),
        (f"2  {ALEF}{BET} {GIMEL}, thickness", f"2  {GIMEL} {BET}{ALEF}, thickness"),
        (f"{ALEF}{BET} 12.5 {GIMEL}", f"{GIMEL} 12.5 {BET}{ALEF}"),
        (f"1 {ALEF}{BET}, 1 of 2; 2 {ALEF}, 2 of 2", f"1 {BET}{ALEF}, 1 of 2; 2 {ALEF}, 2 of 2"),
        (f"4 {ALEF}{BET}: 2 pieces", f"4 {BET}{ALEF}: 2 pieces"),
        (f"{ALEF}{BET} 2, 3 of 6", f"2 {BET}{ALEF}, 3 of 6"),
        (f"{ALEF}{BET}, 12", f"{BET}{ALEF}, 12"),
        (f"{ALEF}, 12 {BET}", f"{BET} 12 ,{ALEF}"),
        (f"({ALEF}{BET})", f"({BET}{ALEF})"),
        (f"{ALEF} ({BET}) {GIMEL}", f"{GIMEL} ({BET}) {ALEF}"),
        (f"{ALEF}{POINT}{BET}", f"{BET}{ALEF}{POINT}"),
        (f"{ALEF}{BET} rail {GIMEL}", f"{BET}{ALEF} rail {GIMEL}"),
        (f"{ALEF} < {BET}", f"{BET} > {ALEF}"),
    ],
)
def test_letters_stand_as_they_are_read(written, seen):
    assert as_seen(written) == seen


def test_printed_letters_stand_from_right_to_left():
    text = Text(f"{ALEF}{BET}{GIMEL} rail", (10.0, 10.0), 5.0, Role.TITLE)
    content = pdf_content([Drawing("x", (text,), (0.0, 0.0, 100.0, 40.0), 1.0, "A4")])
    page = pypdfium2.PdfDocument(io.BytesIO(content))[0].get_textpage()
    places = {}
    for number in range(page.count_chars()):
        places.setdefault(page.get_text_range(number, 1), page.get_charbox(number)[0])
    assert places[GIMEL] < places[BET] < places[ALEF] < places["r"]


@pytest.mark.parametrize(
    ("written", "forms"),
    [
        ("\u0628\u0627\u0628", ("BEH INITIAL", "ALEF FINAL", "BEH ISOLATED")),
        ("\u0633\u0644\u0627\u0645", ("SEEN INITIAL", "LAM WITH ALEF FINAL", "MEEM ISOLATED")),
        ("\u067e\u0686\u06af\u06cc", ("PEH INITIAL", "TCHEH MEDIAL", "GAF MEDIAL", "YEH FINAL")),
        ("\u0644\u0627 \u0645", ("LAM WITH ALEF ISOLATED", "SPACE", "MEEM ISOLATED")),
        ("\u0645\u064f\u062d\u062f", ("MEEM INITIAL", "DAMMA", "HAH MEDIAL", "DAL FINAL")),
        ("\u0628\u06402", ("BEH INITIAL", "TATWEEL", "DIGIT TWO")),
        ("\u0621\u0628", ("HAMZA", "BEH ISOLATED")),
    ],
)
def test_arabic_letters_are_joined_to_their_neighbours(written, forms):
    found = [unicodedata.name(sign) for sign in joined(written)]
    assert len(found) == len(forms)
    assert all(form in name for form, name in zip(forms, found, strict=True))


def test_the_face_of_the_sheets_has_the_joined_forms_of_every_letter_that_it_has():
    face = FT2Font(f"{get_data_path()}/fonts/ttf/DejaVuSans.ttf").get_charmap()
    letters = [chr(code) for code in range(0x0621, 0x06D4) if code in face]
    assert len(letters) > 80
    for letter in letters:
        for text in (letter, f"\u0640{letter}", f"{letter}\u0640", f"\u0640{letter}\u0640"):
            assert all(ord(sign) in face for sign in joined(text))
