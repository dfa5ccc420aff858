"""Settings for every test: random examples are as slow as the machine is busy, and no worse.

In continuous integration the examples are the same at every run; elsewhere they are new ones.
"""

import os

from hypothesis import settings

settings.register_profile("shop", deadline=None, derandomize=bool(os.environ.get("CI")))
settings.load_profile("shop")
