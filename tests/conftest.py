"""For all tests: no hypothesis example fails for being slow, as no test measures time (tests/bench does)."""

from hypothesis import settings

settings.register_profile("untimed", deadline=None)
settings.load_profile("untimed")
