"""Parts fitted to a boat by lot: read or refused in words, nested, put together in the boat.

``ANY_BOATS=200`` draws so many; the gate a few.
"""

import os
import random
import re
from pathlib import Path

import pytest
import yaml
from random_boats import random_boat

from nesting import cli

BOATS = int(os.environ.get("ANY_BOATS", "3"))
FIRST = int(os.environ.get("FIRST_BOAT", "0"))

NONSENSE = re.compile(r"Traceback|\bnan\b|\binf\b|Input should|validation error", re.MULTILINE)

LINES = Path(__file__).parents[2] / "demo_projects" / "lines" / "withy_offsets.csv"
AFTERMOST_MM = 7500.0


@pytest.mark.parametrize("number", range(FIRST, FIRST + BOATS))
def test_parts_of_any_boat_are_refused_in_words_or_come_out_sound(number, tmp_path, capfd):
    project, folder = tmp_path / "project.yaml", tmp_path / "out"
    boat = random_boat(random.Random(number), LINES, 0.0, AFTERMOST_MM)

    def write():
        project.write_text(yaml.safe_dump(boat, sort_keys=False))

    def told(command, *arguments):
        code = cli.main([command, str(project), *arguments])
        found = "".join(capfd.readouterr())
        assert not NONSENSE.search(found), found
        return code, found

    write()
    code, found = told("check")
    if code:
        assert code == 3, found
        refused = set(re.findall(r": part ([a-z ]+ \d+)", found))
        assert refused, found
        boat["parts"] = [part for part in boat["parts"] if part["part"] not in refused]
        write()
    if not boat["parts"]:
        return
    for command in (
        ["nest", "--rounds", "0", "--workers", "1", "-o", str(folder)],
        ["remeasure", "-o", str(folder)],
        ["boat", "-o", str(folder)],
    ):
        code, found = told(*command)
        assert code == 0, found
