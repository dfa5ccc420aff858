"""Paper for recording, read back: its words by a second reader, its codes by OpenCV."""

import io

import cv2
import numpy as np
import pypdfium2
from shapely.geometry import box

from nesting.sheets.pdf import pdf_content
from nesting.shop.board_forms import ASKED, LABEL_HIGH_MM, QR_MM, blank_form, contact_sheets, labels
from nesting.stock.board import Board
from nesting.stock.keep_out import circle
from nesting.units import Unit

BOARDS = [
    Board(f"D-{n:02d}", box(0, 0, 1800, 120), 40, "teak", keep_outs=(circle("hole", 300, 60, 8),))
    for n in range(19)
]


def pages_of(drawings):
    return pypdfium2.PdfDocument(io.BytesIO(pdf_content(drawings)))


def test_codes_of_labels_are_read_as_the_boards_names():
    pdf = pages_of(labels(BOARDS, Unit.MM))
    assert len(pdf) == 2
    image = np.asarray(pdf[0].render(scale=4).to_pil().convert("L"))
    # The library's reader of many codes at once misses some; each label is looked at alone.
    high, wide = image.shape[0] / 297, image.shape[1] / 210
    for number, board in enumerate(BOARDS[:16]):
        left, top = 10 + number % 2 * 95, 10 + number // 2 * LABEL_HIGH_MM
        label = np.ascontiguousarray(
            image[
                int(top * high) : int((top + LABEL_HIGH_MM) * high),
                int(left * wide) : int((left + QR_MM + 10) * wide),
            ]
        )
        word, _, _ = cv2.QRCodeDetector().detectAndDecode(label)
        assert word == board.name


def test_form_asks_for_the_columns_of_the_table_twice_on_a_page():
    pdf = pages_of([blank_form(Unit.INCH)])
    words = pdf[0].get_textpage().get_text_range()
    for name in (name for line in ASKED for name in line):
        assert words.count(name) >= 2


def test_contact_sheet_has_every_board():
    pdf = pages_of(contact_sheets(BOARDS, Unit.MM))
    words = "".join(page.get_textpage().get_text_range() for page in pdf)
    for board in BOARDS:
        assert f"{board.name}: teak" in words
