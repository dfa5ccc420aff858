"""Settings for every test: random examples are as slow as the machine is busy, and no worse."""

from hypothesis import settings

settings.register_profile("shop", deadline=None)
settings.load_profile("shop")
