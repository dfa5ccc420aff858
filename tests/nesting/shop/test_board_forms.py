"""Paper for recording, read back: its words by a second reader, its codes by OpenCV."""

import io
from itertools import combinations

import cv2
import numpy as np
import pypdfium2
import pytest
from shapely.geometry import box

from nesting.project.board_table import COLUMNS
from nesting.sheets.drawing import Text
from nesting.sheets.pdf import pdf_content
from nesting.shop.board_forms import ASKED, LABEL_HIGH_MM, QR_MM, blank_form, labels
from nesting.shop.contact_sheet import contact_sheets
from nesting.shop.kinds import Paper
from nesting.stock.board import Board
from nesting.stock.keep_out import circle
from nesting.units import Unit

BOARDS = [
    Board(f"D-{n:02d}", box(0, 0, 1800, 120), 40, "teak", keep_outs=(circle("hole", 300, 60, 8),))
    for n in range(19)
]


def pages_of(drawings):
    return pypdfium2.PdfDocument(io.BytesIO(pdf_content(drawings)))


def test_form_asks_what_the_columns_of_a_table_ask_each_once():
    asked = [name.split(" (")[0] for line in ASKED for name in line]
    assert sorted(asked) == sorted(COLUMNS)


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
    pdf = pages_of(contact_sheets(BOARDS, Unit.MM, project_name="Teasel"))
    words = "".join(page.get_textpage().get_text_range() for page in pdf)
    for board in BOARDS:
        assert f"{board.name}: teak" in words


ALIKE = [
    Board(f"Ceiling strake from the keel, to port, number {n}", box(0, 0, 1800, 120), 40, "teak")
    for n in (1, 2)
]


def words_of(pages):
    return " ".join(e.text for page in pages for e in page.entities if isinstance(e, Text))


@pytest.mark.parametrize("paper", Paper)
def test_boards_whose_names_begin_alike_are_told_apart(paper):
    """Their labels had one and the same name, cut short where the names began to differ."""
    label, sheet = (
        words_of(labels(ALIKE, Unit.MM, paper)),
        words_of(contact_sheets(ALIKE, Unit.MM, paper, project_name="T")),
    )
    for number, board in enumerate(ALIKE, start=1):
        assert board.name in label
        assert f"number {number}: teak" in sheet


LONG_NAME = "E" * 40 + " and so on, all eighty letters of a name"
LONG = Board(LONG_NAME, box(0, 0, 1800, 120), 40, "teak", leaf=(2, 3))


@pytest.mark.parametrize("paper", Paper)
def test_all_of_a_page_is_on_its_paper_and_can_be_read(paper):
    """Widths of papers: ISO 216 for A4 and A3, the others from memory; least height is our own."""
    boards = [LONG, *BOARDS]
    made = [blank_form(Unit.INCH, paper), *labels(boards, Unit.INCH, paper)]
    for page in (*made, *contact_sheets(boards, Unit.INCH, paper, project_name="T" * 80)):
        wide, high = page.size_mm
        assert (wide + 20, high + 20) == pytest.approx(paper.size_mm)
        texts = [entity for entity in page.entities if isinstance(entity, Text)]
        for text in texts:
            low_x, low_y, high_x, high_y = text.box
            assert 0 <= low_x <= high_x <= wide and 0 <= low_y <= high_y <= high
            assert text.height_mm >= 2.0
        boxes = [box(*text.box) for text in texts]
        assert all(not one.intersects(other) for one, other in combinations(boxes, 2))


def test_label_of_a_leaf_says_which_face_is_up():
    (page,) = labels([LONG], Unit.MM)
    said = [entity.text for entity in page.entities if isinstance(entity, Text)]
    assert "leaf 2 of 3: face towards leaf 1 up" in said
    assert "".join(said[: said.index("leaf 2 of 3: face towards leaf 1 up")]).replace(
        " ", ""
    ) == LONG_NAME.replace(" ", "")


def test_pages_of_a_contact_sheet_are_numbered_and_say_whose_boards_they_are():
    boards = [Board.rectangle(f"D-{n}", 900 + n, 90, 20, "teak") for n in range(500)]
    pages = contact_sheets(boards, Unit.MM, project_name="Teasel")
    said = [[e.text for e in page.entities if isinstance(e, Text)] for page in pages]
    for number, words in enumerate(said, start=1):
        assert words[0].startswith("500 boards, each to a scale of its own") and words[0].endswith(
            "; Teasel"
        )
        assert words[1] == f"page {number} of {len(pages)}"
    assert sum(word.startswith("D-") for words in said for word in words) == 500


def test_contact_sheet_says_the_size_of_a_board_whatever_its_name():
    board = Board.rectangle("w" * 200, 1800, 120, 40, "teak")
    (page,) = contact_sheets([board], Unit.MM, project_name="Teasel")
    (said,) = [e.text for e in page.entities if isinstance(e, Text) and e.text.startswith("ww")]
    assert said.endswith(": teak, 1800 x 120 mm, 40 mm thick, recorded face up")


def test_contact_sheet_counts_what_is_recorded_and_says_what_each_sign_is():
    spots = [circle("metal", 300, 60, 8), circle("hole", 400, 60, 8), circle("hole", 500, 60, 8)]
    boards = [Board.rectangle("D-1", 900, 90, 20, "teak", keep_outs=spots), BOARDS[0]]
    (page,) = contact_sheets([*boards, Board.rectangle("E", 900, 90, 20, "teak")], Unit.MM,
                             project_name="Teasel")  # fmt: skip
    said = [e.text for e in page.entities if isinstance(e, Text)]
    assert "recorded: metal 1, hole 2" in said and "nothing recorded on it" in said
    assert {"metal", "hole"} <= {*said} and "rot" not in said
