"""Turns at the panel: a breath doesn't end a command, and what was answered too soon is put right."""

from __future__ import annotations

import os
import threading
from collections import Counter
from collections.abc import Callable
from dataclasses import replace
from pathlib import Path

import numpy as np
import pytest
from numpy.typing import NDArray

from bot import rigs
from bot.message import Outgoing
from bot.rooms.panel.dialogue import SPOKE_OVER
from bot.rooms.panel.panel_room import PanelRoom
from bot.speech.hands_free import HandsFree, Quiet, Utterance, blocks_of, joined
from bot.speech.voice import Speech
from tests.bot.rooms.panel.breathing import Chain, Said, cases, commands, judged
from tests.bot.rooms.panel.test_listen import At, at_the_panel
from tests.bot.speech.conftest import joe

__all__ = ["joe"]
Samples = NDArray[np.float32]
COMMANDS = Path(__file__).parents[2] / "breaths.txt"
FULL = os.environ.get("CROSSLAY_LAWS") == "full"
PAUSES_S = (0.3, 0.6, 0.9, 1.2, 1.5)
LAY = "two hundred fifty feet of two and a half inch | with an inch and a quarter tip | second floor"


@pytest.fixture
def chain(joe: Callable[[str], Samples], tmp_path: Path) -> Chain:
    return Chain(joe, tmp_path)


async def test_a_breath_inside_a_lay_waits_for_its_end(chain: Chain) -> None:
    for said in [*cases(LAY, (0.7,))][: None if FULL else 1]:
        came = await chain.heard(chain.audio(said))
        assert [told.splitlines()[1] for told in came.told] == ["109 psi, 328 gpm, 1:31 of tank"]


async def test_after_a_longer_pause_the_answer_is_corrected(chain: Chain) -> None:
    came = await chain.heard(chain.audio(Said("crosslay one", "on the third floor", 1.4)))
    assert [told.splitlines()[1][:19] for told in came.told] == ["170 psi, 150 gpm, 3", "Correction: 180 psi"]
    assert came.spoken[1].startswith("Correction: 1 8 0, crosslay 1, third floor. 150 gallons.")


async def test_what_was_logged_too_soon_is_taken_back_with_the_incident_that_it_opened(chain: Chain) -> None:
    came = await chain.heard(chain.audio(Said("water on the fire", "not yet", 1.4)))
    assert came.entries == []
    assert came.told[1].splitlines()[1:3] == [
        "Correction: Not logged: that says it hasn't happened. Report it when it has.",
        "Taken back: Water on the fire, 12:00.",
    ]


@pytest.mark.skipif(not FULL, reason="the long law runs with CROSSLAY_LAWS=full (about 5 minutes)")
@pytest.mark.timeout(3600)
async def test_no_command_in_two_breaths_is_answered_or_logged_by_its_first_half(chain: Chain) -> None:
    """Law: every command of the data file × every likely breath × every pause."""
    count: Counter[str] = Counter()
    wrong = []
    for marked in commands(COMMANDS):
        wanted = await chain.typed(marked.replace("|", " "))
        for said in cases(marked, PAUSES_S):
            came = judged(await chain.heard(chain.audio(said)), wanted)
            count[came] += 1
            wrong += [str(said)] if came == "wrong" else []
    print(f"two breaths: {dict(count)}")
    assert wrong == []
    assert count["right"] >= 0.8 * count.total()


async def test_ordinary_talk_after_a_command_leaves_its_answer(chain: Chain) -> None:
    came = await chain.heard(
        chain.audio(Said("charge the bumper line", "We should paint the fence before winter.", 1.2))
    )
    assert [told.splitlines()[1] for told in came.told] == ["135 psi, 150 gpm: Bumper line on."]


async def test_after_a_question_only_an_answer_needs_no_call_name(url: str, joe: Callable[[str], Samples]) -> None:
    quiet = np.zeros(3 * 16_000, np.float32)
    said = [joe("pump twelve, all clear"), quiet, joe("shut down the rear line"), quiet, joe("primary")]
    async with at_the_panel(url) as (at, panel):
        for found in at.hands_free.turns(blocks_of(np.concatenate(said))):
            await panel.take(found, at.screen)
    assert "rimary or" in at.spoken[0]
    assert "(without the call name: shut down the rear line)" in at.shown()
    assert at.spoken[1].startswith("Primary search complete, 12:00.")


async def test_what_may_have_been_said_over_an_answer_is_asked_for_again(
    url: str, joe: Callable[[str], Samples]
) -> None:
    async with at_the_panel(url) as (at, panel):
        found = list(
            at.hands_free.turns(blocks_of(np.concatenate([joe("pump twelve, crosslay one"), joe("third floor")])))
        )
        first, second = (one for one in found if isinstance(one, Utterance))
        await panel.take(first, at.screen)
        await panel.take(Quiet(), at.screen)
        await panel.take(replace(second, cut=True), at.screen)
    assert at.spoken[-1] == SPOKE_OVER


async def test_an_answer_that_was_overtaken_is_shown_and_not_spoken() -> None:
    at = At()
    at.room.superseded.add("1")
    await at.room.send(Outgoing(1, "panel", "reply", "85 psi", reply_to="1"))
    await at.room.send(Outgoing(2, "panel", "reply", "109 psi", reply_to="2"))
    assert at.played == ["1 0 9 psi"]
    assert "85 psi" in at.shown()


def test_the_turn_ends_when_nobody_has_gone_on(joe: Callable[[str], Samples]) -> None:
    hands_free = HandsFree(At().listener.recogniser)
    clip = joe("water on the fire")[:-8_000]
    stream = np.concatenate([clip, np.zeros(9_600, np.float32), clip, np.zeros(16_000, np.float32)])
    kinds = [type(found) for found in hands_free.turns(blocks_of(stream))]
    assert kinds[-2:] == [Utterance, Quiet]
    assert kinds.count(Utterance) == 2
    assert hands_free.attending
    hands_free.dealt_with()
    assert not hands_free.attending


def test_two_utterances_are_heard_with_a_short_pause_between_them(joe: Callable[[str], Samples]) -> None:
    stream = np.concatenate([joe("crosslay one"), np.zeros(16_000, np.float32), joe("third floor")])
    first, then = HandsFree(At().listener.recogniser).utterances(blocks_of(stream))
    both = joined(first, then)
    assert then.goes_on(first)
    assert not replace(then, cut=True).goes_on(first)
    assert len(both.samples) < len(first.samples) + len(then.samples)
    assert (both.began_s, both.ended_s) == (first.began_s, then.ended_s)
    assert not replace(then, began_s=first.ended_s + 2.6).goes_on(first)


async def test_an_answer_that_somebody_spoke_over_stops_and_is_said_again_where_they_meant_nobody() -> None:
    at, stopped = At(), threading.Event()

    def play(speech: Speech) -> None:
        at.played.append(at.spoken[len(speech.pcm) - 1])
        if len(at.played) == 1:
            at.hands_free.interrupted = True
            assert stopped.wait(10)

    room = PanelRoom(at.screen.show, at.hands_free, at.clock, at, play, rigs.load().own, stopped.set)
    await room.send(Outgoing(1, "panel", "reply", "85 psi", reply_to="1"))
    await room.finish()
    await room.finish()
    assert at.played == ["8 5 psi", "8 5 psi"]
