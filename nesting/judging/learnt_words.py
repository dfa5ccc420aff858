"""What recorded boards teach about those still on the old boat, in words and as data."""

from __future__ import annotations

from nesting.judging.forecast import Forecast
from nesting.judging.recorded import SUPPOSED_PIECES, Leaning, Learnt
from nesting.judging.rot import Manner
from nesting.judging.yields import ROT_MM
from nesting.text_table import TextTable
from nesting.units import Unit
from nesting.words import counted
from nesting.written_measures import format_length


def learnt_table(found: Forecast, unit: Unit) -> TextTable:
    """Return what recorded boards teach about the rest of their members, in a sentence each."""
    rows = tuple(
        (f"{one.member.name}, {counted(one.recorded.pieces, 'piece')}", _learnt_words(one, unit))
        for one in found.learnt
    )
    title = "What the recorded boards teach about those still on her"
    return TextTable(title, ("recorded", "what the rest is drawn by"), rows)


def _learnt_words(one: Learnt, unit: Unit) -> str:
    """Return what was supposed of a member, what was found, and what is reckoned with."""
    stretches = f"stretches of {format_length(ROT_MM, unit)}"
    words = [_leaning_words("sound wood", one.sound, stretches)]
    if one.sound.mean < 1.0:
        words.append(_manner_words(one))
    if one.a_metre:
        words.append(_leaning_words("metal left", one.metal, "fasteners"))
        now, supposed = (format_length(1000.0 / n, unit) for n in (one.a_metre * one.times,
                                                                   one.a_metre))  # fmt: skip
        words.append(
            f"a fastener every {now}: supposed {supposed}, which counts as "
            f"{SUPPOSED_PIECES:.0f} pieces"
        )
    share = 100.0 * one.share_of_found
    return "; ".join([*words, f"{share:.0f} % of them as large as one found, by lot"])


def _manner_words(one: Learnt) -> str:
    """Return how many pieces found are sound all through, and how rot lies by that."""
    likely = ", ".join(
        f"{manner} {100 * share:.0f} %" for manner, share in zip(Manner, one.manners, strict=True)
    )
    whole = f"{one.recorded.whole} of {one.recorded.pieces} sound all through"
    return f"how rot lies, {whole}: {likely}"


def _leaning_words(what: str, one: Leaning, trials: str) -> str:
    return (
        f"{what} {100 * one.mean:.0f} %: supposed {100 * one.supposed:.0f} %, which counts as "
        f"{one.trials:.0f} {trials}, found {100 * one.found:.0f} % in {one.found_trials:.0f}"
    )


def learnt_data(one: Learnt) -> dict[str, object]:
    """Return what the recorded pieces of a member teach, as a file has it."""
    return {
        "member": one.member.name, "pieces": one.recorded.pieces,
        "sound_supposed": one.sound.supposed, "sound_found": one.sound.found,
        "sound": one.sound.mean, "sound_all_through": one.recorded.whole,
        "rot_lies": dict(zip([manner.value for manner in Manner], one.manners, strict=True)),
        "metal_supposed": one.metal.supposed, "metal_found": one.metal.found,
        "metal": one.metal.mean, "fasteners_a_metre_supposed": one.a_metre,
        "fasteners_a_metre": one.a_metre * one.times,
    }  # fmt: skip
