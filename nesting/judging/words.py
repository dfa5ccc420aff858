"""What judging an old boat comes to, as tables of words: the same on screen, paper and in CSV."""

from __future__ import annotations

from collections.abc import Sequence

from nesting.judging.choice import CHEAP_SHARE, Choice, Judged, Verdict, Why
from nesting.judging.forecast import Forecast
from nesting.judging.forecast_words import OF_CHANCES, forecast_data, forecast_table
from nesting.judging.learnt_words import learnt_data, learnt_table
from nesting.judging.order import Task
from nesting.judging.ways import Way, left_in
from nesting.text_table import TextTable
from nesting.units import BOARD_FOOT_MM3, Unit
from nesting.words import counted
from nesting.written_measures import format_length

ABOUT = (
    "Numbers are what is to be expected, not what will be: the first planks off are the measure. "
    "Hours of a joint stand with both its members; the order of work has them once. "
    "Nothing found in print was measured on boats; where no source is named, minutes and "
    "shares are common practice, no source."
)
"""Said with every judgement."""


FEW_HOURS = 9.95
"""Below that a tenth of an hour is worth telling."""


def tables_of(choice: Choice, unit: Unit, found: Forecast | None = None) -> tuple[TextTable, ...]:
    """Return every table of a judgement, and of a forecast if there is one."""
    tables = (
        verdict_table(choice, unit),
        ways_table(choice),
        work_table(choice),
        braced_table(choice),
        doubt_table(choice),
    )
    if found is None:
        return tables
    return (*tables, learnt_table(found, unit), forecast_table(found))


def about(found: Forecast | None) -> str:
    """Return what is said of all figures, and of chances where there are any."""
    return ABOUT if found is None else f"{ABOUT} {OF_CHANCES}"


def money(choice: Choice, amount: float) -> str:
    """Return a sum of money, whole."""
    currency = choice.question.boat.rates.currency
    return f"{amount:.0f} {currency}".rstrip()


def hours_words(hours: float) -> str:
    """Return hours in words, few of them to a tenth.

    >>> hours_words(1.44), hours_words(47.3)
    ('1.4 hours', '47 hours')
    """
    return f"{hours:.1f} hours" if hours < FEW_HOURS else f"{hours:.0f} hours"


def headline(choice: Choice) -> str:
    """Return in a sentence what the best choice comes to."""
    answer = choice.solved
    if not answer.saved:
        return "Nothing is worth pulling at these rates: buy new, or look at what hours cost."
    proof = (
        "proven: no choice is better by these figures"
        if answer.is_proven
        else f"no choice can beat {money(choice, answer.bound)}; the search was cut short"
    )
    return (
        f"Save {counted(len(answer.saved), 'member')}: wood for parts worth "
        f"{money(choice, choice.worth)} in {hours_words(choice.hours)}; "
        f"{money(choice, answer.net)} are left when the hours are paid ({proof})."
    )


def verdict_table(choice: Choice, unit: Unit) -> TextTable:
    """Return every member: what becomes of it, what it gives, what it takes, and why."""
    rows = tuple(_verdict_row(choice, judged, unit) for judged in choice.judged)
    columns = (
        "member", "verdict", "#pieces", "#clear", "#with bungs", "#of", "#longest run", "#hours",
        "#worth", "why",
    )  # fmt: skip
    return TextTable(f"What is worth pulling ({_volume_words(unit)})", columns, rows)


def _verdict_row(choice: Choice, judged: Judged, unit: Unit) -> tuple[str, ...]:
    member = choice.question.boat.by_name[judged.member]
    least = min((w.length_mm for w in choice.question.wanted), default=0.0)
    clear, pluggable, longest = _wood(judged, least)
    return (
        judged.member,
        judged.verdict.value,
        str(member.count),
        volume(clear, unit),
        volume(pluggable, unit),
        volume(member.board_feet, unit),
        format_length(longest, unit),
        f"{judged.hours:.1f}",
        f"{judged.worth:.0f}",
        reason(choice, judged, unit),
    )


def _wood(judged: Judged, least_mm: float = 0.0) -> tuple[float, float, float]:
    """Return board feet of clear and of pluggable wood in long runs, and the longest run, mm."""
    best = judged.best
    if best is None:
        return 0.0, 0.0, 0.0
    return best.clear_feet(least_mm), best.pluggable_feet(least_mm), best.plugged.mean_longest()


def _volume_words(unit: Unit) -> str:
    words = "board feet" if unit.is_imperial else "m3"
    return f"wood in {words}, in runs as long as the shortest part"


def volume(feet: float, unit: Unit) -> str:
    """Return a volume without its unit: board feet, or cubic metres."""
    return f"{feet:.0f}" if unit.is_imperial else f"{feet * BOARD_FOOT_MM3 * 1e-9:.3f}"


def reason(choice: Choice, judged: Judged, unit: Unit) -> str:
    """Return why a member is saved or not."""
    if judged.verdict is Verdict.SAVE:
        dear = sorted(judged.given.items(), key=lambda pair: -pair[1])
        named = ", ".join(f"{count:.1f} {part}" for part, count in dear[:3])
        more = f" and {counted(len(dear) - 3, 'other part')}" if len(dear) > 3 else ""
        return f"gives {named}{more}"
    hour = choice.question.boat.rates.hour
    cost = f"{hours_words(judged.hours)}, {money(choice, hour * judged.hours)}"
    sentences = {
        Why.HOURS: f"{cost}, for wood worth {money(choice, judged.worth)}",
        Why.METAL: _how_close(choice, judged, unit),
        Why.HOLES: _how_close(choice, judged, unit),
    }
    told = sentences.get(judged.why, judged.why.value)
    if judged.verdict is Verdict.IF_CHEAP:
        return f"{told}; worth it where an hour costs half"
    return told


def _how_close(choice: Choice, judged: Judged, unit: Unit) -> str:
    """Return how close the fasteners stand in a member, and what that leaves."""
    boat = choice.question.boat
    spacings = [
        boat.spacing_on(joint, judged.member)
        for k in boat.joints_of[judged.member]
        if not ((joint := boat.joints[k]).is_at_ends and joint.of == judged.member)
    ]
    every = f", one every {format_length(min(spacings), unit)}" if spacings else ""
    return f"{judged.why.value}{every}"


def ways_table(choice: Choice) -> TextTable:
    """Return how each joint is parted, and what stays in either member."""
    question, rows = choice.question, list[tuple[str, ...]]()
    for number, way in sorted(choice.solved.ways.items()):
        joint = question.boat.joints[number]
        left = [_left_words(choice, number, way, name) for name in (joint.of, joint.to)]
        rows.append(
            (
                joint.name, way.value, str(question.boat.fasteners_in(joint)),
                f"{question.hours(number, way):.1f}", *left,
                f"{joint.fastener}: {question.ways[way].of(joint.fastener).source}",
            )
        )  # fmt: skip
    columns = (
        "joint", "way", "#fasteners", "#hours", "leaves in the outer one", "in the inner one",
        "figures from",
    )  # fmt: skip
    return TextTable("How joints are parted", columns, tuple(rows))


def _left_words(choice: Choice, joint: int, way: Way, member: str) -> str:
    """Return what a way leaves: its own figure; the choice goes by the worst of those alike."""
    question = choice.question
    left = left_in(way, question.boat.joints[joint], member, question.ways[way])
    if left.is_spoiled:
        return "spoiled"
    return f"metal at {100 * left.metal:.0f} %, holes" if left.metal else "holes"


def work_table(choice: Choice) -> TextTable:
    """Return the order of work, with what to mind and what to write down first."""
    tasks = choice.tasks
    rows = tuple(_work_row(number, task) for number, task in enumerate(tasks, start=1))
    columns = ("#", "comes off", "for", "#hours", "mind", "measure and write down first")
    return TextTable("Order of work", columns, rows)


def braced_table(choice: Choice) -> TextTable:
    """Return what stays until the end, so that she is braced on it; no row where nothing does."""
    staying = choice.stands_longest if choice.solved.off else ()
    rows = ((", ".join(staying),),) if staying else ()
    return TextTable("What stays until last", ("brace her on",), rows)


def _work_row(number: int, task: Task) -> tuple[str, ...]:
    purpose = "its wood" if task.is_saved else "what lies below"
    return (
        str(number), task.member.name, purpose, f"{task.hours:.1f}",
        "; ".join(task.cautions), task.write_down,
    )  # fmt: skip


def doubt_table(choice: Choice) -> TextTable:
    """Return what the choice hangs on."""
    rows = tuple(
        (
            doubt.what, f"{doubt.low_net:.0f} to {doubt.high_net:.0f}",
            ", ".join(doubt.changed) or "no verdict",
        )
        for doubt in choice.doubts
    )  # fmt: skip
    columns = ("if this is otherwise", "#left when hours are paid", "these verdicts change")
    title = f"What it hangs on (cheap hours above: {100 * CHEAP_SHARE:.0f} % of the rate)"
    return TextTable(title, columns, rows)


def as_data(choice: Choice, found: Forecast | None) -> dict[str, object]:
    """Return the judgement as plain data; lengths in mm, volumes in mm3."""
    return {
        "net": choice.solved.net,
        "bound": choice.solved.bound,
        "proven": choice.solved.is_proven,
        "hours": choice.hours,
        "worth": choice.worth,
        "members": [_member_data(judged) for judged in choice.judged],
        "joints": [
            {
                "of": choice.question.boat.joints[k].of,
                "to": choice.question.boat.joints[k].to,
                "way": way.value,
                "hours": choice.question.hours(k, way),
            }
            for k, way in sorted(choice.solved.ways.items())
        ],
        "order": [task.member.name for task in choice.tasks],
        "brace_on": list(choice.stands_longest),
        "forecast": None if found is None else [forecast_data(part) for part in found.parts],
        "learnt": [] if found is None else [learnt_data(one) for one in found.learnt],
    }


def _member_data(judged: Judged) -> dict[str, object]:
    clear, pluggable, longest = _wood(judged)
    return {
        "member": judged.member,
        "verdict": judged.verdict.value,
        "why": judged.why.value,
        "hours": judged.hours,
        "worth": judged.worth,
        "gives": dict(judged.given),
        "clear_mm3": clear * BOARD_FOOT_MM3,
        "pluggable_mm3": pluggable * BOARD_FOOT_MM3,
        "longest_run_mm": longest,
    }


def as_csv_rows(tables: Sequence[TextTable]) -> list[Sequence[str]]:
    """Return tables as a spreadsheet has them, one below the other."""
    rows = list[Sequence[str]]()
    for table in tables:
        rows += [[table.title], [column.lstrip("#") for column in table.columns], *table.rows, []]
    return rows
