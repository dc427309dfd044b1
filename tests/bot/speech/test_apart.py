"""The other process: its answers, its faults and its end are handed on, and nothing else ends with it."""

from __future__ import annotations

import asyncio
import os
import time
from collections.abc import AsyncIterator

import pytest

from bot.errors import NotAudioError, SpeechError
from bot.speech.apart import ENDED, Apart, EarFailed


@pytest.fixture
async def apart() -> AsyncIterator[Apart]:
    it = Apart()
    yield it
    it.close()


def _refuse() -> None:
    raise NotAudioError


def _fail(words: str) -> None:
    raise ValueError(words)


async def test_it_answers_again_and_again_and_is_another_process(apart: Apart) -> None:
    first = await apart.run(os.getpid)
    assert first != os.getpid()
    assert await apart.run(os.getpid) == first
    assert await apart.run(pow, 2, 10) == 1024


async def test_our_own_errors_come_as_their_sentence_and_others_without_their_words(apart: Apart) -> None:
    with pytest.raises(SpeechError, match="isn't a recording"):
        await apart.run(_refuse)
    with pytest.raises(EarFailed, match=r"^ValueError in test_apart.py:\d+$"):
        await apart.run(_fail, "what the officer said")


async def test_an_end_in_the_middle_is_one_sentence_and_the_next_recording_is_heard(apart: Apart) -> None:
    with pytest.raises(SpeechError, match=ENDED):
        await apart.run(os._exit, 9)
    assert await apart.run(pow, 2, 3) == 8


async def test_it_is_started_anew_when_somebody_ended_it_between_two_recordings(apart: Apart) -> None:
    first = await apart.run(os.getpid)
    os.kill(first, 9)
    assert await apart.run(os.getpid) != first


async def test_what_takes_too_long_is_ended() -> None:
    apart = Apart(longest_s=0.2)
    try:
        with pytest.raises(SpeechError, match=ENDED):
            await apart.run(time.sleep, 600)
    finally:
        apart.close()


async def test_the_loop_goes_on_meanwhile(apart: Apart) -> None:
    working = asyncio.ensure_future(apart.run(time.sleep, 0.1))
    turns = 0
    while not working.done():
        await asyncio.sleep(0)
        turns += 1
    assert turns > 100
