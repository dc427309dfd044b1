"""The bench's own clips: sentences that training never saw, in voices that it never heard. Made anew, not stored.

Kinds: `command` drawn from the grammar's phrases, `mayday` the same for calls of distress, `free` worded as people
word things, `offtopic` ordinary talk and radio talk that is no command. How a truth is to be read is the text reader's
business: `grammar.reader`.
"""

from __future__ import annotations

import itertools
import pickle
from collections.abc import Callable, Iterator
from dataclasses import dataclass
from pathlib import Path
from random import Random

import msgspec
import numpy as np
from numpy.typing import NDArray
from rich.progress import track

from bot import rigs
from bot.message.context import build
from bot.message.recording import names
from bot.speech.training.sentences import english_sentences, is_held_out, trade_sentences
from grammar import phrases, samples
from grammar.commands import Context, Mayday
from grammar.reader import read
from handlers.scene import Scene
from tests.bench.speech.voices import engines

HERE = Path(__file__).parent


@dataclass(frozen=True, slots=True)
class Clip:
    """One clean clip."""

    kind: str
    text: str
    intent: str
    voice: str
    samples: NDArray[np.float32]


@dataclass(frozen=True, slots=True)
class Size:
    """How many clips of each kind a level gets."""

    command: int
    mayday: int
    free: int
    offtopic: int
    noise: int


FULL = Size(command=440, mayday=40, free=160, offtopic=80, noise=60)
QUICK = Size(command=48, mayday=8, free=16, offtopic=16, noise=8)


def setting() -> tuple[Context, phrases.Names]:
    """The demonstration rig with an incident running, and the names that can be said on it."""
    rig = rigs.load().own
    here = msgspec.structs.replace(build(rig, rigs.unit_of(rig), Scene()), incident_open=True, addressed=True)
    return here, names(rig, here)


def written(name: str) -> list[str]:
    """The sentences of one of the bench's text files."""
    lines = (HERE / name).read_text(encoding="utf-8").splitlines()
    return [line for line in lines if line and not line.startswith("#")]


def _phrases(
    count: int, chance: Random, said: phrases.Names, wanted: Callable[[str], bool], intent: str | None = None
) -> Iterator[tuple[str, str]]:
    """Different held-out phrases of the grammar that are wanted, with the name of their group."""
    taken: set[str] = set()
    while len(taken) < count:
        phrase = samples.sample(chance, said, intent)
        if phrase.words not in taken and is_held_out(phrase.words) and wanted(phrase.words):
            taken.add(phrase.words)
            yield phrase.words, phrase.intent


def sentences(size: Size, seed: int) -> list[tuple[str, str, str]]:
    """(kind, text, group of phrases) of every clip."""
    chance = Random(seed)
    here, said = setting()

    def readable(words: str) -> bool:
        reading = read(words, here)
        return bool(reading.commands or reading.question)

    def distress(words: str) -> bool:
        return any(isinstance(command, Mayday) and not command.cleared for command in read(words, here).commands)

    chosen = [("command", *one) for one in _phrases(size.command, chance, said, readable)]
    chosen += [("mayday", *one) for one in _phrases(size.mayday, chance, said, distress, "mayday")]
    own = written("free.txt")
    more = (one for one in trade_sentences(seed, frozenset({"free", "report"})) if is_held_out(one.text))
    free = list(dict.fromkeys([*own, *(one.text for one in itertools.islice(more, 20 * size.free))]))
    chosen += [
        ("free", text, "") for text in ([*own, *free[len(own) :]] if size.free >= len(own) else free)[: size.free]
    ]
    talk = written("offtopic.txt")
    radio = (one.text for one in trade_sentences(seed + 1, frozenset({"radio"})) if is_held_out(one.text))
    english = (one.text for one in english_sentences(seed + 2, []) if is_held_out(one.text))
    others = [text for pair in zip(radio, itertools.islice(english, 60 * size.offtopic), strict=False) for text in pair]
    idle = [text for text in dict.fromkeys([*talk, *others]) if not read(text, here).commands]
    chosen += [("offtopic", text, "") for text in chance.sample(idle, min(size.offtopic, len(idle)))]
    return chosen


def make(size: Size, seed: int, keep: Path | None = None) -> tuple[list[Clip], list[str]]:
    """The clips, and what voices are missing. `keep`: a file to keep them in and take them from on the next run."""
    found, missing = engines()
    if keep is not None and keep.exists():
        return pickle.loads(keep.read_bytes()), missing
    chance = Random(seed)
    clips = []
    for kind, text, intent in track(sentences(size, seed), "speaking"):
        engine = chance.choices(found, [engine.share for engine in found])[0]
        samples, voice = engine.speak(text, chance)
        clips.append(Clip(kind, text, intent, voice, samples))
    if keep is not None:
        keep.write_bytes(pickle.dumps(clips))
    return clips, missing
