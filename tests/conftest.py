"""For all tests: no hypothesis example fails for being slow, as no test measures time (tests/bench does); the rules
read alone, since what they read is what the laws say (tests/grammar/judge has the learned reader's own tests).
"""

import os

from hypothesis import settings

settings.register_profile("untimed", deadline=None)
settings.load_profile("untimed")
os.environ["CROSSLAY_LEARNED_READER"] = "false"
