"""A message is read the same in every run of the program: choices that are as likely stand in one order."""

from __future__ import annotations

import os
import subprocess
import sys

SAID = ["take down bumper line", "crosslay one to the bravo side", "got crosslay one going", "back to full"]
_READ = """
import sys
from grammar.commands import Context, RigLine
from grammar.reader import read
lines = (RigLine("crosslay_1", ("crosslay 1",)), RigLine("bumper_line", ("bumper line",)))
print([read(said, Context(addressed=True, rig_lines=lines)) for said in sys.argv[1:]])
"""


def _read_with_seed(seed: str) -> str:
    env = {**os.environ, "PYTHONHASHSEED": seed}
    return subprocess.run(
        [sys.executable, "-c", _READ, *SAID], env=env, capture_output=True, text=True, check=True
    ).stdout


def test_the_order_of_equal_choices_is_not_by_chance() -> None:
    assert _read_with_seed("1") == _read_with_seed("2")
