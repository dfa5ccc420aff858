"""What a judgement says, cell by cell, of a choice made by hand."""

import json
from dataclasses import replace
from types import SimpleNamespace

import pytest

from nesting.judging.choice import Choice, Doubt, Judged, Verdict, Why
from nesting.judging.forecast import Forecast
from nesting.judging.forecast_words import OF_CHANCES
from nesting.judging.old_boat import Fastener, Joint, Member, OldBoat, Rates
from nesting.judging.outputs import write_judged
from nesting.judging.programme import Solved
from nesting.judging.question import Question
from nesting.judging.recorded import Leaning, Learnt, Recorded
from nesting.judging.wanted import Wanted
from nesting.judging.ways import SPOILED, Way
from nesting.judging.words import (
    ABOUT,
    about,
    as_csv_rows,
    as_data,
    braced_table,
    doubt_table,
    headline,
    hours_words,
    reason,
    tables_of,
    verdict_table,
    volume,
    ways_table,
    work_table,
)
from nesting.judging.yields import Yield
from nesting.rules import Rules
from nesting.units import BOARD_FOOT_MM3, Unit

DECK = Member("deck", "teak", 4, 3000.0, 100.0, 25.0, rests_on=("beam",), hazards=("old paint",))
BEAM = Member("beam", "oak", 2, 2000.0, 80.0, 80.0, holds_her=True)
KEEL = Member("keel", "oak", 1, 5000.0, 150.0, 150.0, holds_her=True)
JOINT = Joint("deck", "beam", Fastener.BOLT, 6.0, 1000.0)
STRIP = Wanted("strip", ("teak",), 9, 700.0, 60.0, 22.0, True, 12.0)
SHORT = replace(STRIP, part="block", length_mm=400.0)


def choice(*judged, saved=("deck",), off=("deck",), currency="crowns", net=96.4, bound=96.4):
    boat = OldBoat("Dunlin", (DECK, BEAM, KEEL), (JOINT,), Rates(10.0, 20.0, {}, currency))
    question = Question(boat, (STRIP, SHORT), Rules())
    ways = {0: Way.SPLIT_OUTER}
    given = {("deck", 0): 8.0, ("deck", 1): 0.5} if saved else {}
    found = Solved(ways, frozenset(saved), frozenset(off), {}, given, net, bound)
    doubts = (Doubt("the tide", -3.6, 120.4, ("beam", "deck")), Doubt("the moon", 90.0, 99.0, ()))
    return Choice(question, found, judged, doubts)


def one(member=DECK, verdict=Verdict.SCRAP, why=Why.HOURS, given=None, hours=12.34, worth=96.0):
    best = Yield(member, (), Rules())
    return Judged(member.name, verdict, why, given or {}, hours, worth, best)


# --- in a sentence --------------------------------------------------------------------------------


def test_headline_says_what_is_saved_and_what_is_left_when_hours_are_paid():
    """Twelve bolts split off at 2.2 min each, four pieces carried off at 6 min."""
    told = headline(choice())
    assert told == (
        "Save 1 member: wood for parts worth 102 crowns in 0.8 hours; 96 crowns are left when the "
        "hours are paid (proven: no choice is better by these figures)."
    )


def test_hours_of_a_joint_stand_with_both_members_and_once_in_the_order_of_work():
    """Bolts split off, .44 h, and four and two pieces carried off: said with every judgement."""
    found = choice(off=("deck", "beam"), saved=("deck",))
    assert "Hours of a joint stand with both its members; the order of work has them once." in ABOUT
    assert [row[3] for row in work_table(found).rows] == ["0.8", "0.2"]
    assert sum(task.hours for task in found.tasks) == pytest.approx(found.hours)


def test_headline_of_a_search_cut_short_says_what_cannot_be_beaten():
    told = headline(choice(saved=("deck", "beam"), bound=110.0, currency=""))
    assert "Save 2 members: wood for parts worth 102 in" in told
    assert "(no choice can beat 110; the search was cut short)" in told


def test_headline_of_a_boat_not_worth_it():
    assert headline(choice(saved=())).startswith("Nothing is worth pulling at these rates")


@pytest.mark.parametrize(
    ("hours", "words"),
    [(0.04, "0.0 hours"), (9.94, "9.9 hours"), (9.95, "10 hours"), (47.5, "48 hours")],
)
def test_few_hours_are_told_to_a_tenth(hours, words):
    assert hours_words(hours) == words


def test_volumes_are_board_feet_or_cubic_metres():
    feet = 1e9 / BOARD_FOOT_MM3
    assert volume(feet, Unit.MM) == "1.000"
    assert volume(feet, Unit.INCH) == "424"


# --- why ----------------------------------------------------------------------------------------


@pytest.mark.parametrize(
    ("given", "words"),
    [
        ({"strip": 2.04}, "gives 2.0 strip"),
        ({"a": 1.0, "b": 3.0, "c": 2.0}, "gives 3.0 b, 2.0 c, 1.0 a"),
        ({"a": 1.0, "b": 3.0, "c": 2.0, "d": 0.5}, "gives 3.0 b, 2.0 c, 1.0 a and 1 other part"),
        ({"a": 1, "b": 3, "c": 2, "d": 0.5, "e": 4}, "gives 4.0 e, 3.0 b, 2.0 c and 2 other parts"),
    ],
)
def test_what_is_saved_names_the_three_parts_that_it_gives_most_of(given, words):
    saved = one(verdict=Verdict.SAVE, why=Why.WORTH, given=given)
    assert reason(choice(), saved, Unit.MM) == words


@pytest.mark.parametrize(
    ("why", "verdict", "words"),
    [
        (Why.HOURS, Verdict.SCRAP, "12 hours, 123 crowns, for wood worth 96 crowns"),
        (Why.HOURS, Verdict.IF_CHEAP, "12 hours, 123 crowns, for wood worth 96 crowns; worth it "
         "where an hour costs half"),
        (Why.METAL, Verdict.SCRAP, f"{Why.METAL}, one every 1000 mm"),
        (Why.HOLES, Verdict.SCRAP, f"{Why.HOLES}, one every 1000 mm"),
        (Why.BUNGS, Verdict.SCRAP, str(Why.BUNGS)),
        (Why.NO_PART, Verdict.SCRAP, str(Why.NO_PART)),
        (Why.GLUED, Verdict.SCRAP, str(Why.GLUED)),
        (Why.ABOVE, Verdict.IF_CHEAP, f"{Why.ABOVE}; worth it where an hour costs half"),
    ],
)  # fmt: skip
def test_what_is_not_saved_says_why(why, verdict, words):
    assert reason(choice(), one(verdict=verdict, why=why), Unit.MM) == words


def test_fasteners_stand_as_close_as_in_the_member_itself():
    """Twelve bolts in two beams of two metres; in a keel that nothing joins there are none."""
    beam, keel = one(BEAM, why=Why.METAL), one(KEEL, why=Why.METAL)
    assert reason(choice(), beam, Unit.MM) == f"{Why.METAL}, one every 333 mm"
    assert reason(choice(), keel, Unit.MM) == str(Why.METAL)


# --- tables -------------------------------------------------------------------------------------


def test_table_of_verdicts_has_wood_in_runs_as_long_as_the_shortest_part():
    """Four pieces of deck are 0.03 m3, none of it in runs as long as a part if that is longer."""
    found = choice(one(verdict=Verdict.SAVE, given={"strip": 8.0}, why=Why.WORTH))
    table = verdict_table(found, Unit.MM)
    assert table.title == "What is worth pulling (wood in m3, in runs as long as the shortest part)"
    assert table.columns[:4] == ("member", "verdict", "#pieces", "#clear")
    assert table.rows == (
        ("deck", "save", "4", "0.030", "0.030", "0.030", "3000 mm", "12.3", "96",
         "gives 8.0 strip"),
    )  # fmt: skip
    assert "board feet" in verdict_table(found, Unit.INCH).title
    long = replace(found.question, wanted=(replace(STRIP, length_mm=3001.0),))
    (row,) = verdict_table(replace(found, question=long), Unit.MM).rows
    assert row[3:6] == ("0.000", "0.000", "0.030")


def test_member_that_no_way_leaves_whole_has_no_wood_to_show():
    glued = replace(one(why=Why.GLUED), best=None)
    (row,) = verdict_table(choice(glued), Unit.MM).rows
    assert row[3:7] == ("0.000", "0.000", "0.030", "0 mm")
    (data,) = as_data(choice(glued), None)["members"]
    assert (data["clear_mm3"], data["pluggable_mm3"], data["longest_run_mm"]) == (0, 0, 0)


def test_table_of_ways_says_what_stays_in_either_member():
    found = choice()
    (row,) = ways_table(found).rows
    assert row[:6] == (
        "deck to beam", "split the outer one", "12", "0.4", "spoiled", "metal at 15 %, holes",
    )  # fmt: skip
    assert row[6].startswith("bolt: ")
    drawn = replace(found, solved=replace(found.solved, ways={0: Way.DRAW}))
    assert ways_table(drawn).rows[0][4:6] == ("holes", "metal at 16 %, holes")


def test_order_of_work_says_what_for_and_what_to_mind():
    table = work_table(choice(off=("deck", "beam"), saved=("deck",)))
    first, second = table.rows
    assert first[:3] == ("1", "deck", "its wood")
    assert first[4:] == ("mind old paint", "")
    assert second[:3] == ("2", "beam", "what lies below")
    assert second[4].startswith("shore her first")


def test_she_is_braced_on_what_holds_her_and_stays_whole():
    assert braced_table(choice(off=("deck",))).rows == (("beam, keel",),)
    assert braced_table(choice(off=("deck", "beam"))).rows == (("keel",),)
    assert braced_table(choice(off=("deck", "beam", "keel"))).rows == ()
    assert braced_table(choice(off=(), saved=())).rows == ()  # Nothing comes off.
    split = choice(off=("deck",))
    split = replace(split, solved=replace(split.solved, ways={0: Way.SPLIT_INNER}))
    assert braced_table(split).rows == (("keel",),)


def test_member_that_splits_what_holds_her_is_told_to_be_shored_for():
    split = choice(off=("deck",))
    split = replace(split, solved=replace(split.solved, ways={0: Way.SPLIT_INNER}))
    (row,) = work_table(split).rows
    assert row[4] == (
        "mind old paint; shore her first: this splits beam, which held her up or in shape"
    )


def test_large_boat_braced_on_much_is_printed_on_pages(tmp_path):
    """What she is braced on once stood in a heading wider than any page: no file was written."""
    names = [f"transverse frame {number}" for number in range(40)]
    found = choice(one())
    members = (*found.question.boat.members, *(replace(KEEL, name=name) for name in names))
    boat = replace(found.question.boat, members=members)
    found = replace(found, question=replace(found.question, boat=boat))
    files = write_judged(found, tables_of(found, Unit.MM), tmp_path / "judged", about=about(None))
    assert all(path.stat().st_size for path in files)
    assert ", ".join(names) in files[2].read_text("utf-8")


def test_what_chances_hang_on_is_said_where_there_are_any():
    assert about(None) == ABOUT
    assert about(Forecast((), 50, 20.0, ())) == f"{ABOUT} {OF_CHANCES}"


def test_table_of_doubts_has_both_ends_and_the_verdicts_that_change():
    table = doubt_table(choice())
    assert table.title == "What it hangs on (cheap hours above: 50 % of the rate)"
    assert table.rows == (
        ("the tide", "-4 to 120", "beam, deck"),
        ("the moon", "90 to 99", "no verdict"),
    )


def test_all_tables_stand_one_below_the_other_in_a_spreadsheet():
    tables = tables_of(choice(one()), Unit.MM)
    firsts = [table.title.split(" ")[0] for table in tables]
    assert firsts == ["What", "How", "Order", "What", "What"]
    rows = as_csv_rows(tables)
    assert rows[0] == [tables[0].title]
    assert rows[1][2:4] == ["pieces", "clear"]
    assert rows[3] == []
    assert len(rows) == sum(3 + len(table.rows) for table in tables)


def test_data_has_every_figure_as_it_stands():
    found = choice(one(verdict=Verdict.SAVE, given={"strip": 8.0}, why=Why.WORTH), bound=110.0)
    data = as_data(found, None)
    assert json.loads(json.dumps(data)) == data
    assert (data["net"], data["bound"], data["proven"]) == (96.4, 110.0, False)
    assert (data["hours"], data["worth"]) == (found.hours, 102.0)
    volume_mm3 = 4 * 3000.0 * 100.0 * 25.0
    (deck,) = data["members"]
    assert deck == {
        "member": "deck", "verdict": "save", "why": "what it gives is worth its hours",
        "hours": 12.34, "worth": 96.0, "gives": {"strip": 8.0},
        "clear_mm3": pytest.approx(volume_mm3), "pluggable_mm3": pytest.approx(volume_mm3),
        "longest_run_mm": pytest.approx(3000.0),
    }  # fmt: skip
    assert data["joints"] == [
        {"of": "deck", "to": "beam", "way": "split the outer one",
         "hours": found.question.hours(0, Way.SPLIT_OUTER)}
    ]  # fmt: skip
    assert data["order"] == ["deck"]
    assert (data["forecast"], data["learnt"]) == (None, [])


def test_metal_of_ways_told_apart_no_more_is_the_worst_of_them():
    question = choice().question
    assert question.left(0, Way.BREAK, "deck") == SPOILED
    assert question.left(0, Way.DRAW, "deck").metal == pytest.approx(0.1)


# --- what recorded boards teach, and the forecast -------------------------------------------------


SOUND = (33 * 0.8 + 6 * 0.9) / 39
NOT_WHOLE = (1 - SOUND**6, 1 - 0.05, (1 - SOUND) / 0.75)
"""How likely a piece of six stretches has rot in it where rot lies scattered, in every piece (but
for a twentieth), or in few pieces, which lose three quarters."""

ROT_LIES = {
    manner: one / sum(NOT_WHOLE)
    for manner, one in zip(("scattered", "in every piece", "in few pieces"), NOT_WHOLE, strict=True)
}


def learnt(a_metre):
    """Return what one plank of 3 m teaches: 16 fasteners, 4 with metal; a tenth of it lost."""
    recorded = Recorded(((3000.0, 100.0, 25.0),), 3000.0, 300.0, 0, 16, 4)
    return Learnt(
        DECK, recorded, Leaning(0.8, 0.07, 0.9, 6.0), Leaning(0.3, 0.1, 0.25, 16.0), a_metre
    )


def forecast(a_metre=4.0):
    part = SimpleNamespace(
        need=SimpleNamespace(part="strip", quantity=9), to_buy=1.26,
        all_of_it=SimpleNamespace(chance=0.625, bounds=(0.4, 0.8)),
    )  # fmt: skip
    sure = SimpleNamespace(
        need=SimpleNamespace(part="block", quantity=2), to_buy=0.0,
        all_of_it=SimpleNamespace(chance=1.0, bounds=(0.9, 1.0)),
    )  # fmt: skip
    return SimpleNamespace(
        parts=(sure, part), learnt=(learnt(a_metre),), piles=40, boards_mean=12.4
    )


def test_what_recorded_boards_teach_is_said_with_what_was_supposed_and_what_was_found():
    """0.8 known to 0.07 counts as 33 trials; 16 fasteners for 12 on one piece beside two: 10/9."""
    *_, table, _ = tables_of(choice(one()), Unit.MM, forecast())
    assert table.rows == (
        (
            "deck, 1 piece",
            "sound wood 82 %: supposed 80 %, which counts as 33 stretches of 500 mm, found 90 % "
            "in 6; how rot lies, 0 of 1 sound all through: scattered 37 %, in every piece 50 %, in "
            "few pieces 13 %; metal left 28 %: supposed 30 %, which counts as 21 fasteners, found "
            "25 % in 16; a fastener every 225 mm: supposed 250 mm, which counts as 2 pieces; 33 % "
            "of them as large as one found, by lot",
        ),
    )
    *_, bare, _ = tables_of(choice(one()), Unit.MM, forecast(0.0))
    assert "metal left" not in bare.rows[0][1]
    assert "a fastener" not in bare.rows[0][1]


def test_forecast_is_told_the_unlikeliest_part_first():
    *_, table = tables_of(choice(one()), Unit.MM, forecast())
    assert table.title == "What the pile gives, by 40 piles of some 12 boards"
    assert table.rows == (
        ("strip", "9", "62 %", "40 to 80 %", "1.3"),
        ("block", "2", "100 %", "90 to 100 %", "0.0"),
    )


def test_data_has_what_was_learnt_and_foretold():
    data = as_data(choice(one()), forecast())
    assert data["forecast"][1] == {
        "part": "strip", "chance": 0.625, "low": 0.4, "high": 0.8, "to_buy": 1.26,
    }  # fmt: skip
    ((found),) = data["learnt"]
    assert found == {
        "member": "deck", "pieces": 1, "sound_supposed": 0.8, "sound_found": 0.9,
        "sound": pytest.approx(0.8155, abs=1e-4), "sound_all_through": 0,
        "rot_lies": pytest.approx(ROT_LIES, abs=1e-3), "metal_supposed": 0.3, "metal_found": 0.25,
        "metal": pytest.approx(0.2784, abs=1e-4), "fasteners_a_metre_supposed": 4.0,
        "fasteners_a_metre": pytest.approx(4.0 * 10 / 9),
    }  # fmt: skip
