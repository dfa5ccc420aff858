"""Every kind of keep-out stands wherever kinds are recorded, asked for, told or drawn."""

from importlib.resources import files

import pytest

from nesting.arguments.of_book import NOTE_WORDS
from nesting.engine.search.cures import FLAWS
from nesting.project.board_entry import BoardEntry
from nesting.sheets.dxf_terms import LAYERS
from nesting.sheets.pen import PENS
from nesting.sheets.symbols import role_of
from nesting.sheets.title import keep_out_sample
from nesting.shop.board_forms import ASKED
from nesting.stock.keep_out import EVERYDAY_WORDS, PLUGGABLE, PLURALS, KeepOutKind, kind_meant

CIRCLES = PLUGGABLE | {KeepOutKind.METAL}
"""Drawn on the page as circles, with a sign in the middle; the others are filled by theirs."""


def test_every_kind_is_recorded_by_a_column_a_key_an_option_and_a_blank_form():
    assert set(PLURALS) == set(KeepOutKind)
    keys = {info.alias or name for name, info in BoardEntry.model_fields.items()}
    columns = list(PLURALS.values())
    assert set(columns) <= keys
    assert [word.replace("-", " ") for word in NOTE_WORDS] == columns
    assert [key for line in ASKED for key in line if key in columns] == columns


@pytest.mark.parametrize("kind", list(KeepOutKind))
def test_every_kind_is_known_by_what_people_call_it(kind):
    for word in (kind.value, PLURALS[kind], *EVERYDAY_WORDS[kind].split()):
        assert kind_meant(word) is kind


def test_every_kind_may_be_what_stands_in_a_parts_way():
    assert {*FLAWS, *PLUGGABLE} == set(KeepOutKind)
    assert FLAWS[-1] is KeepOutKind.METAL


def test_no_two_kinds_look_alike_on_a_sheet_or_share_a_layer():
    roles = [role_of(kind) for kind in KeepOutKind]
    assert len({LAYERS[role] for role in roles}) == len(KeepOutKind)
    assert set(roles) <= set(PENS)
    drawn = {_shapes(kind) for kind in KeepOutKind}
    assert len(drawn) == len(KeepOutKind)


def _shapes(kind):
    return str([(type(e).__name__, *_without_role(e)) for e in keep_out_sample(kind)])


def _without_role(entity):
    return [value for name, value in sorted(vars(entity).items()) if name != "role"]


@pytest.mark.parametrize("kind", [kind for kind in KeepOutKind if kind not in CIRCLES])
def test_the_page_fills_every_other_kind_with_a_sign_of_its_own(kind):
    parts = files("nesting.shop").joinpath("page_parts")
    name = kind.value.replace(" ", "-")
    style = parts.joinpath("page.css").read_text(encoding="utf-8")
    assert f".keep.{name} {{ fill: url(#sign-{name}); }}" in style
    assert f'id="sign-{name}"' in parts.joinpath("signs.svg").read_text(encoding="utf-8")
