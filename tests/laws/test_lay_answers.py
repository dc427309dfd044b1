"""Lays said in a message, and what the panel is told: lay_cases.jsonl, figures worked out by hand (FL = C·Q²·L)."""

from __future__ import annotations

import json
from pathlib import Path
from typing import Any

import pytest

from bot.api import Crosslay
from bot.settings import Settings

CASES = [json.loads(line) for line in (Path(__file__).parent / "lay_cases.jsonl").read_text("utf-8").splitlines()]


@pytest.fixture(scope="module")
def panel() -> Crosslay:
    return Crosslay.of(Settings())


@pytest.mark.parametrize("case", CASES, ids=[case["say"] for case in CASES])
def test_a_lay_is_answered(case: dict[str, Any], panel: Crosslay) -> None:
    handled = panel.answer(case["say"])
    asked, answer = handled.question, handled.answer
    assert handled.intent == case["intent"], handled.reply
    if "asks" in case:
        assert asked is not None, handled.reply
        assert case["asks"] in asked.text
        return
    if "refuses" in case:
        assert case["refuses"] in (handled.refused or ""), handled.reply
        return
    assert handled.status == "answered", handled.reply
    for key, field in (("pump", "pump_pressure_psi"), ("friction", "friction_psi"), ("flow", "flow_gpm")):
        if key in case:
            assert answer[field] == pytest.approx(case[key], abs=0.01), handled.reply
    assert handled.reply.startswith(case.get("leads", ""))
    assert case.get("reply", "") in handled.reply
    assert case.get("unsaid", "~") not in handled.reply
    assert case.get("assumed", "") in "; ".join(handled.assumed)
    assert case.get("caution", "") in "; ".join(handled.cautions)
