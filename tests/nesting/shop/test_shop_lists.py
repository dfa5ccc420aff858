"""Lists: what CSV holds is the plan, no name is run as a formula, money only where it is stated."""

from __future__ import annotations

import csv
import io
from dataclasses import replace

import pytest
import shapely
from hypothesis import given, settings
from hypothesis import strategies as st
from printed import HOSTILE, folio_of, pages_of

from nesting.errors import ProjectFileError
from nesting.marking.marking_out import marking_out
from nesting.marking.tape import Tape
from nesting.project import read_project
from nesting.rates import Measure, Rates, WoodPrice
from nesting.sheets.drawing import Text
from nesting.shop import shop_lists
from nesting.shop.kinds import Paper, is_made
from nesting.shop.list_data import Column, Kind, ShopList
from nesting.shop.money import buying_lists
from nesting.spreadsheet import RISKY, guarded, unguarded
from nesting.stock.keep_out import KeepOutKind
from nesting.units import BOARD_FOOT_MM3, Unit
from parts.wood.sold_as import Form

RATES = Rates(
    "EUR",
    (
        WoodPrice("white oak", 12.0, Measure.BOARD_FOOT),
        WoodPrice("white oak", 20.0, Measure.BOARD_FOOT, thickness_mm=52.0),
    ),
    hour=60.0,
    cut_minutes=3.0,
    bung_minutes=4.0,
    part_minutes=20.0,
)


def rows_of(word: str, **more) -> list[dict]:
    """Return a CSV list as any reader reads it, guards taken off."""
    folio = folio_of(**more)
    content = dict(shop_lists.made(folio))[f"list-{word}.csv"].decode("utf-8")
    head, *rows = csv.reader(io.StringIO(content, newline=""), quoting=csv.QUOTE_NONNUMERIC)
    return [
        {
            name: unguarded(cell) if isinstance(cell, str) else cell
            for name, cell in zip(head, row, strict=True)
        }
        for row in rows
    ]


def test_files_are_those_that_the_shop_knows():
    names = [name for name, _ in shop_lists.made(folio_of("hostile"))]
    assert all(map(is_made, names))
    assert "lists.pdf" in names
    assert "list-money.csv" not in names


def test_no_cell_begins_as_a_formula_and_every_name_reads_back():
    for name, content in shop_lists.made(folio_of("hostile")):
        if name.endswith(".csv"):
            for row in csv.reader(io.StringIO(content.decode("utf-8"), newline="")):
                assert not any(cell.startswith(RISKY) for cell in row), name
    rows = rows_of("boards", which="hostile")
    assert [row["board"] for row in rows] == list(HOSTILE)
    assert [row["part"] for row in rows] == [f"part {name}" for name in HOSTILE]


@settings(deadline=None, max_examples=100)
@given(st.text())
def test_any_text_reads_back(text):
    assert unguarded(guarded(text)) == text
    assert not guarded(text).startswith(RISKY)


@pytest.mark.parametrize("unit", [Unit.MM, Unit.M, Unit.FOOT])
def test_places_and_sizes_are_those_of_the_plan_in_its_unit(unit):
    folio = folio_of(unit=unit)
    rows = iter(rows_of("boards", unit=unit))
    for nest in folio.plan.nests:
        for number, placement in enumerate(nest.placements, start=1):
            base = marking_out(nest, Tape.of(unit)).base
            row, bounds = next(rows), shapely.transform(placement.polygon, base.measured).bounds
            assert (row["board"], row["no."], row["part"]) == (
                nest.board.name, number, placement.label,
            )  # fmt: skip
            names = ("along", "across", "along to", "across to")
            found = [row[f"{name} ({unit})"] * unit.mm for name in names]
            assert found == pytest.approx(bounds, abs=0.0051)
    assert next(rows, None) is None


def test_parts_are_all_placed_ones_and_those_left_over():
    folio = folio_of()
    rows = rows_of("parts")
    placed = [p.label for nest in folio.plan.nests for p in nest.placements]
    assert sorted(row["part"] for row in rows if row["board"]) == sorted(placed)
    left = [(row["part"], row["count"]) for row in rows if not row["board"]]
    assert left == [(u.need.part, u.count) for u in folio.plan.unplaced]


def test_bungs_old_fastenings_and_offcuts_agree_with_the_account():
    folio = folio_of()
    counts: dict[float, float] = {}
    for row in rows_of("bungs"):
        size = row["diameter (mm)"]
        counts[size] = counts.get(size, 0) + row["count"]
    assert counts == {round(size, 2): count for size, count in folio.account.bung_counts.items()}
    assert len(rows_of("bung-places")) == sum(counts.values())
    kinds = {KeepOutKind.METAL, KeepOutKind.HOLE, KeepOutKind.RECESS}
    keep_outs = [k for nest in folio.plan.nests for k in nest.board.keep_outs if k.kind in kinds]
    holes = rows_of("holes")
    assert len(holes) == len(keep_outs)
    metal = [row for row in holes if row["what"] == "metal"]
    assert metal and all("clear of it" in row["what to do"] for row in metal)
    offcuts = [offcut for board in folio.account.boards for offcut in board.offcuts]
    rows = rows_of("offcuts")
    assert sum(r["long (mm)"] * r["wide (mm)"] for r in rows) == pytest.approx(
        sum(offcut.area_mm2 for offcut in offcuts), rel=1e-4
    )


def test_shares_add_up_to_what_was_opened():
    *boards, whole = rows_of("account")
    names = ("parts", "offcuts kept", "defects", "kerf and trim", "oddments")
    for row in (*boards, whole):
        shares = sum(row[f"{name} (m2)"] for name in names)
        assert shares == pytest.approx(row["opened (m2)"], abs=5e-6)
    assert sum(row["opened (m2)"] for row in boards) == pytest.approx(
        whole["opened (m2)"], abs=5e-5
    )


def test_volumes_to_order_add_up_to_the_buy_list():
    folio = folio_of()
    ordered = sum(line.order_mm3 or 0.0 for line in folio.account.to_buy)
    assert ordered > 0
    found = sum(row["to order (m3)"] for row in rows_of("buy"))
    assert found == pytest.approx(ordered * 1e-9, abs=1e-6)


def test_hard_to_replace_parts_are_cut_first():
    folio = folio_of()
    worth = {
        nest.board.name: max(p.need.worth for p in nest.placements) for nest in folio.plan.nests
    }
    order = [worth[row["board"]] for row in rows_of("order")]
    assert order == sorted(order, reverse=True)


def test_money_and_hours_follow_the_rates_stated():
    folio = folio_of(rates=RATES)
    rows = rows_of("money", rates=RATES)
    parts = sum(len(nest.placements) for nest in folio.plan.nests)
    offcuts = sum(len(board.offcuts) for board in folio.account.boards)
    bungs = sum(folio.account.bung_counts.values())
    hours = (3 * (parts + offcuts) + 4 * bungs + 20 * parts) / 60
    work = next(row for row in rows if row["what"] == "all work")
    assert work["hours"] == pytest.approx(hours, abs=1e-4)
    assert work["cost (EUR)"] == pytest.approx(60 * hours, abs=1e-3)
    (line,) = folio.account.to_buy
    price = RATES.price_of(line.species, line.thickness_mm)
    wood = next(row for row in rows if row["what"].startswith("new wood"))
    cost = line.order_mm3 / BOARD_FOOT_MM3 * price.price
    assert wood["cost (EUR)"] == pytest.approx(cost, abs=1e-3)
    whole = next(row for row in rows if row["what"].startswith("all that"))
    assert whole["cost (EUR)"] == pytest.approx(cost + work["cost (EUR)"], abs=1e-3)


def test_what_no_price_is_stated_for_has_none():
    rows = rows_of("money", rates=replace(RATES, wood=(), hour=None))
    wood = next(row for row in rows if row["what"].startswith("new wood"))
    assert (wood["cost (EUR)"], wood["note"]) == ("", "no price stated")
    assert next(row for row in rows if row["what"] == "all work")["cost (EUR)"] == ""


@pytest.mark.parametrize("wood", [(), RATES.wood])
def test_crooks_are_sold_by_the_piece_whatever_prices_are_stated(wood):
    folio = folio_of(rates=replace(RATES, wood=wood))
    crook = replace(folio.account.to_buy[0], form=Form.CROOK)
    account = replace(folio.account, to_buy=(crook,))
    (money,) = [
        made for made in buying_lists(replace(folio, account=account)) if made.word == "money"
    ]
    (told,) = [row[-1] for row in money.rows if str(row[0]).startswith("new wood")]
    assert told == "sold by the piece: ask"


def test_a_price_for_a_thickness_goes_before_one_for_all():
    assert RATES.price_of("white oak", 52.0).price == 20.0
    assert RATES.price_of("white oak", 27.0).price == 12.0
    assert RATES.price_of("teak", 27.0) is None


def test_lists_on_paper_hold_every_part_and_the_plans_word():
    folio = folio_of()
    pages = shop_lists.list_pages(folio, shop_lists.all_lists(folio))
    for number, page in enumerate(pages, start=1):
        texts = [entity.text for entity in page.entities if isinstance(entity, Text)]
        assert f"plan {folio.identity}" in texts
        assert f"page {number} of {len(pages)}" in texts


PROJECT = """{{version: 1, name: Stool, unit: in,
  stock: [{{board: A, species: teak, thickness: 1, length: 40, width: 12}}],
  parts: [{{part: seat, family: plank, species: teak,
           shape: {{length: 16, width: 10, thickness: 3/4}}}}],
  rates: {rates}}}"""


def test_rates_are_read_from_the_project_file(tmp_path):
    path = tmp_path / "stool.yaml"
    rates = (
        "{currency: $, hour: 40, minutes_per_cut: 2.5, "
        "wood: [{species: teak, thickness: 2 in, price: 45, per: board foot}, "
        "{species: teak, price: 19000, per: m3}]}"
    )
    path.write_text(PROJECT.format(rates=rates))
    found = read_project(path).rates
    assert (found.currency, found.hour, found.cut_minutes, found.part_minutes) == (
        "$",
        40,
        2.5,
        None,
    )
    assert found.price_of("teak", 50.8).price == 45
    assert found.price_of("teak", 25.4).per is Measure.CUBIC_METRE
    path.write_text(PROJECT.format(rates="null"))
    assert read_project(path).rates is None


def test_a_wrong_rate_is_told_with_its_place(tmp_path):
    path = tmp_path / "stool.yaml"
    path.write_text(PROJECT.format(rates="{currency: EUR, hour: -3}"))
    with pytest.raises(ProjectFileError, match=r"stool.yaml:5:\d+.*hour"):
        read_project(path)


def test_small_paper_holds_the_lists_too():
    assert pages_of("hostile", Paper.LETTER, Unit.INCH)


@pytest.mark.parametrize(("unit", "said"), [(Unit.INCH, "1 61/64"), (Unit.MM, "49.73")])
def test_a_leaf_is_as_thick_as_a_rule_shows_on_paper_and_as_reckoned_in_csv(unit, said):
    """A 6 in knee resawn into three: nobody sets a saw to 1.958 in."""
    column = Column("thick", Kind.TAPED)
    told = ShopList("boards", "Boards", (column,), ((49.7332,),))
    assert told.cells(unit) == [[said]]
    given = list(csv.reader(io.StringIO(told.csv(unit).decode())))[1]
    assert float(given[0]) * unit.mm == pytest.approx(49.7332, abs=0.006)
