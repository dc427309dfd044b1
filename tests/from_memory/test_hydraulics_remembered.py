"""Hydraulics against values that are only remembered of works that weren't at hand: no published checks."""

from __future__ import annotations

import json
from pathlib import Path
from typing import Any

import pytest

from tests.published.test_hydraulics import cases, differences

DATA = json.loads(Path(__file__).with_name("hydraulics.json").read_text(encoding="utf-8"))


@pytest.mark.parametrize("row", cases(DATA))
def test_remembered_value(row: dict[str, Any]) -> None:
    assert differences(row) == {}


def test_what_is_remembered_says_so_and_nothing_published_is_remembered() -> None:
    published = json.loads((Path(__file__).parents[1] / "published" / "hydraulics.json").read_text(encoding="utf-8"))
    assert {row["grade"] for row in DATA["cases"]} == {"M"}
    assert "M" not in {row["grade"] for row in published["cases"]}
    assert not [row["id"] for row in published["cases"] if row["basis"] == "memory" or "memory" in row["source"]]
