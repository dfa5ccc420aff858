"""Names that are read from the right, as they stand on paper."""

import io

import pypdfium2
import pytest

from nesting.sheets.drawing import Drawing, Role, Text
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
