"""`python -m tests.readme` puts what the program makes now into the README."""

from tests.readme.blocks import README, renewed

README.write_text(renewed(README.read_text(encoding="utf-8")), encoding="utf-8")
