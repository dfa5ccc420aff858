"""Whatever is changed in a written folder, ``remeasure`` finds it; what is not changed, it leaves.

``MUTATIONS=2000 python -m pytest -s tests/nesting/test_mutations.py`` tries so many of each of four
forms and prints what was not found; the gate tries some dozens.
"""

from __future__ import annotations

import os
import random
import re
import sys
from collections.abc import Callable
from functools import cache
from itertools import zip_longest
from pathlib import Path

import pytest
from mutations import Mutation, of_folder
from written_plans import FORMS, Form, drawn_once, form, write

from nesting.errors import SalvageNestError
from nesting.read_back.remeasure import remeasured

MANY = os.environ.get("MUTATIONS")
COUNT = int(MANY or 25)

FOUND_SHARE = 0.995

quick = pytest.fixture(autouse=True, scope="module")(drawn_once)

forms = pytest.mark.parametrize("number", range(len(FORMS) if MANY else 2))


@pytest.fixture(scope="module")
def written(tmp_path_factory: pytest.TempPathFactory) -> Callable[[int], tuple[Form, Path]]:
    @cache
    def made(number: int) -> tuple[Form, Path]:
        plan = form(*FORMS[number])
        return plan, write(plan, tmp_path_factory.mktemp("written"))

    return made


def answer(made: Form, folder: Path) -> str:
    """Return what is found in a folder: nothing, or what is told of it in so many words."""
    try:
        _, faults = remeasured(made.project, folder)
    except SalvageNestError as error:
        assert "\n" not in str(error)
        return str(error)
    return "; ".join(map(str, faults))


def changed(made: Form, folder: Path, mutation: Mutation) -> str:
    """Return what is found with one thing changed; the folder is as before afterwards."""
    path = folder / mutation.file
    before = path.read_bytes() if path.exists() else None
    after = mutation.made()
    assert after != before, mutation
    try:
        if after is None:
            path.unlink()
        else:
            path.write_bytes(after)
        return answer(made, folder)
    finally:
        if before is None:
            path.unlink()
        else:
            path.write_bytes(before)


def some_of_each(mutations: list[Mutation], rng: random.Random) -> list[Mutation]:
    """Return mutations in such an order that the first few are of as many kinds as can be."""
    kinds: dict[str, list[Mutation]] = {}
    for mutation in rng.sample(mutations, len(mutations)):
        name = re.sub(r"'.*|on [A-Z_0-9]+|\d+/|%", "", mutation.kind)
        kinds.setdefault(f"{Path(mutation.file).suffix} {name}", []).append(mutation)
    rows = zip_longest(*rng.sample(list(kinds.values()), len(kinds)))
    return [mutation for row in rows for mutation in row if mutation is not None]


@forms
def test_what_is_changed_in_a_written_folder_is_found(number, written) -> None:
    made, folder = written(number)
    rng = random.Random(number)
    there = list(of_folder(folder, rng))
    tried = some_of_each(there, rng)[:COUNT]
    missed = [str(mutation) for mutation in tried if not changed(made, folder, mutation)]
    if MANY:
        counts = f"{len(tried)} of {len(there)} tried, {len(missed)} not found"
        sys.stdout.write("\n".join([f"\n{FORMS[number]}: {counts}", *missed, ""]))
    assert len(missed) <= (1 - FOUND_SHARE) * len(tried), "\n".join(missed)


@forms
def test_what_was_not_changed_is_left_in_peace(number, written) -> None:
    made, folder = written(number)
    assert answer(made, folder) == ""
