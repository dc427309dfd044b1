"""What the README shows is what the program does now."""

from __future__ import annotations

import re
from pathlib import Path

import pytest

from bot.api import Crosslay
from bot.settings import load
from tests.readme.blocks import BLOCKS, DEVELOPERS, README, put
from tests.readme.lays import LAYS


@pytest.mark.parametrize("sentence", [sentence for _, sentence in LAYS])
def test_every_lay_is_answered_without_a_question(sentence: str) -> None:
    handled = Crosslay.of(load()).answer(sentence)
    assert handled.answer, handled.reply
    assert handled.reply[0].isdigit() or handled.reply.startswith("C = ")


@pytest.mark.parametrize("name", BLOCKS)
def test_each_block_is_up_to_date(name: str) -> None:
    page, make = BLOCKS[name]
    text = page.read_text(encoding="utf-8")
    assert put(text, name, make()) == text, "run python -m tests.readme"


@pytest.mark.parametrize("page", [README, DEVELOPERS], ids=lambda page: page.name)
def test_every_file_that_is_named_is_there(page: Path) -> None:
    named = re.findall(r"[`(]((?:bot|grammar|handlers|tests|\.ci|\.github)/[\w./]+)[`)]", page.read_text("utf-8"))
    assert [name for name in named if not (page.parent / name).exists()] == []
