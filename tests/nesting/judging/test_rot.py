"""How rot lies in pieces drawn by lot: as much by each manner, and learnt from what is found."""

from dataclasses import replace

import numpy as np
import pytest
from test_choice_of_members import deck
from test_piles import found_boards

from nesting.judging.choice import choose
from nesting.judging.old_boat import Member
from nesting.judging.piles import learnt_of, sampled_pile
from nesting.judging.rot import Manner, bad_share, manner_drawn, rotten, whole_chances
from nesting.stock.keep_out import KeepOutKind

PLANK = Member("plank", "teak", 1, 3000.0, 100.0, 30.0, 0.85)


@pytest.mark.parametrize("manner", Manner)
@pytest.mark.parametrize("sound", [0.95, 0.7, 0.2])
def test_as_much_is_rotten_in_the_mean_as_the_file_says(manner, sound):
    chance, plank = np.random.default_rng(4), replace(PLANK, sound=sound)
    lost = []
    for _ in range(2000):
        stretches = rotten(plank, manner, chance)
        ends = [0.0, *(x for stretch in stretches for x in stretch), plank.length_mm]
        assert ends == sorted(ends)  # on the piece, in their order, none upon another
        lost.append(sum(high - low for low, high in stretches))
    assert np.mean(lost) / plank.length_mm == pytest.approx(1.0 - sound, abs=0.03)


@pytest.mark.parametrize("manner", Manner)
def test_as_many_pieces_are_sound_all_through_as_is_reckoned_with(manner):
    chance = np.random.default_rng(5)
    whole = np.mean([not rotten(PLANK, manner, chance) for _ in range(2000)])
    expected = dict(zip(Manner, whole_chances(PLANK, PLANK.sound), strict=True))[manner]
    assert whole == pytest.approx(expected, abs=0.05)
    assert not rotten(replace(PLANK, sound=1.0), manner, chance)


def test_all_manners_are_drawn_alike_until_pieces_are_recorded():
    drawn = [manner_drawn(lot, None) for lot in (0.0, 0.3, 0.4, 0.6, 0.7, 1.0)]
    assert drawn == [one for one in Manner for _ in range(2)]
    assert manner_drawn(0.5, (0.0, 0.4, 0.6)) is Manner.GATHERED
    assert bad_share(0.0) == 1.0 and bad_share(1.0) == 0.0


@pytest.fixture(scope="module")
def choice():
    return choose(deck())


def whole_pieces(choice, found):
    """Return what share of the pieces to come is sound all through, in many piles."""
    learnt = learnt_of(choice, found)
    boards = [
        board
        for seed in range(12)
        for board in sampled_pile(choice, np.random.default_rng(seed), learnt=learnt)
    ]
    return np.mean([not any(k.kind is KeepOutKind.ROT for k in b.keep_outs) for b in boards])


def test_pieces_to_come_have_their_rot_as_those_found_do(choice):
    """A tenth is rotten in both piles: of each of twenty boards, or half of every fifth."""
    all_alike = found_boards(20, rotten=0.1, metal=0.1)
    few = [*found_boards(4, rotten=0.5, metal=0.1), *found_boards(16, rotten=0.0, metal=0.1)]
    likely = {name: learnt_of(choice, found)["decking"].manners for name, found in
              (("alike", all_alike), ("few", few))}  # fmt: skip
    assert likely["alike"][1] > 0.99 and likely["few"][2] > 0.95
    assert whole_pieces(choice, all_alike) < 0.1
    assert whole_pieces(choice, few) > 0.7
