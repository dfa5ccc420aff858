"""Any project through the whole job: read, nested, written, measured from outside, read back.

``ANY_JOBS=500`` draws so many by lot; the gate a few. A project that is refused must say so in a
sentence; one that is read must come out sound, with every kind of output.
"""

import os
import random
import re

import pytest
import yaml
from outside_audit import Audit
from random_jobs import random_job, with_more

from nesting import cli
from nesting.book.added_in_cad import added_in_cad
from nesting.sheets.read_back import read_back

JOBS = int(os.environ.get("ANY_JOBS", "6"))
FIRST = int(os.environ.get("FIRST_JOB", "0"))

NONSENSE = re.compile(r"Traceback|\bnan\b|\binf\b|-0(\.0+)?(?![\d.])(?= |$)", re.MULTILINE)
"""What no output may say: a library's words, a figure that is none, a nought below nought."""

ONCE_WRONG = (2012,)
"""A stopped cut shaved what is kept in line with the part that it runs along."""

WRITTEN = ("nothing", "print,lists,page", "machine", "patterns", "print,page,lists,machine")


@pytest.mark.parametrize("number", [*ONCE_WRONG, *range(FIRST, FIRST + JOBS)])
def test_any_job_is_refused_in_words_or_comes_out_sound(number, tmp_path, capfd):
    rng = random.Random(number)
    project, folder = tmp_path / "project.yaml", tmp_path / "out"
    job = random_job(rng)
    if number not in ONCE_WRONG:
        job = with_more(job, random.Random(f"{number} and more"), tmp_path)
    project.write_text(yaml.safe_dump(job, sort_keys=False, allow_unicode=True))

    def told(command, *arguments):
        code = cli.main([command, str(project), *arguments])
        found = "".join(capfd.readouterr())
        assert not NONSENSE.search(found), found
        return code, found

    code, found = told("check")
    if code:
        assert code == 3 and str(project) in found, found
        return
    rounds, write = rng.choice([0, 0, 1]), rng.choice(WRITTEN)
    given = ("--rounds", str(rounds), "--workers", "1", "--write", write, "-o", str(folder))
    code, found = told("nest", *given)
    assert code == 0, found
    audit = Audit(project, folder)
    if audit.summary["boards"]:
        audit.run()
    for command in ("remeasure", "strength"):
        code, found = told(command, "-o", str(folder))
        assert code == 0, found
    for row in audit.summary["boards"]:
        sheet = folder / row["file"]
        assert not list(added_in_cad(read_back(sheet), sheet)), "nobody drew anything on it"
