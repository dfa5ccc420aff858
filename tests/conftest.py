"""Settings for every test: random examples are as slow as the machine is busy, and no worse.

In continuous integration the examples are the same at every run; elsewhere they are new ones.
"""

import os

import pytest
from hypothesis import settings

settings.register_profile("shop", deadline=None, derandomize=bool(os.environ.get("CI")))
settings.load_profile("shop")


@pytest.hookimpl(tryfirst=True)
def pytest_collection_modifyitems(items: list[pytest.Item]) -> None:
    """Keep each file on one worker, unless it names a group: what it prepares is made once."""
    for item in items:
        if item.get_closest_marker("xdist_group") is None:
            item.add_marker(pytest.mark.xdist_group(item.path.stem))
