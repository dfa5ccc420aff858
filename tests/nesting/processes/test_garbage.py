"""While no garbage is looked for nothing is looked through, and not all of it at once after."""

from __future__ import annotations

import gc
import weakref

from nesting.processes.garbage import unlooked


def test_garbage_is_looked_for_again_after():
    with unlooked():
        assert not gc.isenabled()
    assert gc.isenabled()


def test_what_was_made_meanwhile_counts_as_old():
    with unlooked():
        made = [[] for _ in range(10 * gc.get_threshold()[0])]
    count, old = gc.get_count()[0], {id(each) for each in gc.get_objects(generation=2)}
    assert count < gc.get_threshold()[0]
    assert all(id(each) in old for each in made)


class Loop:
    """Refers to itself."""

    def __init__(self):
        self.own = self


def test_garbage_of_that_time_is_found_when_all_is_looked_through():
    with unlooked():
        seen = weakref.ref(Loop())
    assert seen() is not None
    gc.collect()
    assert seen() is None
