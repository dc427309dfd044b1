"""`python -m tests.readme` puts what the program makes now into the README and DEVELOPERS.md."""

from tests.readme.blocks import renew

renew()
