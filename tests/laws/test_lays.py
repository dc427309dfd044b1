"""Law: of messages of one to six different lines none is answered wrongly, and few are asked back."""

from __future__ import annotations

import os
from collections import Counter

from tests.laws.lay_messages import Panel, messages

FULL = os.environ.get("CROSSLAY_LAWS") == "full"
HOW_MANY = 2000 if FULL else 400
MOST_ASKED = 0.03


def test_several_different_lines_are_never_mixed_up() -> None:
    panel, counts, wrong = Panel(), Counter[str](), []
    for said in messages(HOW_MANY, seed=20261128):
        verdict, why = panel.judge(said)
        counts[verdict] += 1
        if verdict == "wrong":
            wrong.append(f"{said.text}\n    {why}")
    assert not wrong, "\n".join(wrong)
    assert counts["asked"] <= MOST_ASKED * HOW_MANY, counts
