"""What became of each clip: heard, gated and read as the program does it, and compared with its truth.

The truth of a clip is what the text reader makes of its written sentence. Outcomes:

* right     answered, and every command is the truth's (or the truth itself is a question and that was asked)
* asked     a question back; `offered` says whether the right answer is among its choices
* declined  "not understood", "too loud"
* wrong     answered, and something is not the truth's: silently wrong, the worst
"""

from __future__ import annotations

import time
from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from typing import Any

import msgspec
import numpy as np
from numpy.typing import NDArray

from bot.message.recording import as_reading, meaning_in
from bot.speech.audio import decode, encode_opus
from bot.speech.hearing import Heard, Recogniser
from bot.speech.training.clips import RATE
from grammar.commands import Context, Mayday, Reading
from grammar.phrases import Names, word_graph
from grammar.reader import read
from tests.bench.speech import noise
from tests.bench.speech.made import Clip

Samples = NDArray[np.float32]


@dataclass(frozen=True, slots=True)
class Outcome:
    """One clip at one level."""

    kind: str
    level: int | None
    noise: str
    text: str
    intent: str
    voice: str
    result: str
    offered: bool
    readable: bool
    """The truth can be read at all."""
    mayday: bool
    """The truth is a Mayday."""
    mayday_kept: bool
    """It was answered, or asked about."""
    best_right: bool
    """The best guess means the truth, whatever the gate did."""
    heard: Heard
    said: str
    """The reply's kind: the commands, the question or the reason."""
    audio_s: float
    cpu_s: float
    wall_s: float


def slots(commands: Sequence[Any]) -> tuple[Any, ...]:
    """Commands without the free text that some keep: what counts is what will be done."""
    return tuple(
        msgspec.structs.replace(command, text=None) if "text" in command.__struct_fields__ else command
        for command in commands
    )


def same(one: Reading, other: Reading) -> bool:
    """Whether two readings come to the same."""
    if one.commands or other.commands:
        return slots(one.commands) == slots(other.commands)
    if one.question is not None and other.question is not None:
        return one.question.text == other.question.text
    return False


def judged(clip: Clip, truth: Reading, reading: Reading) -> tuple[str, bool]:
    """Outcome, and whether the truth was among a question's choices."""
    if reading.commands:
        return ("right" if same(truth, reading) else "wrong"), False
    if reading.question is None:
        return "declined", False
    if truth.commands:
        return "asked", any(slots(choice.commands) == slots(truth.commands) for choice in reading.question.choices)
    return ("right", True) if same(truth, reading) else ("asked", False)


class Chain:
    """The program's way from a recording to a reading, with one recogniser."""

    def __init__(self, recogniser: Recogniser, here: Context, said: Names) -> None:
        self._recogniser, self._here = recogniser, here
        self._graph = word_graph(said)
        recogniser.warm_up()

    def one(self, clip: Clip, level: int | None, chance: np.random.Generator, crowd: Sequence[Samples]) -> Outcome:
        """A clip at one level: mixed, sent as a voice message (OGG/Opus), heard, gated and read."""
        sound, name = noise.mixed(clip.samples, level, chance, crowd)
        message = encode_opus((sound * 32_767).astype(np.int16), RATE, int(chance.choice([16_000, 24_000, 32_000])))
        wall, cpu = time.perf_counter(), time.process_time()
        heard = self._recogniser.hear(decode(message), self._graph, meaning_in(self._here))
        reading = as_reading(heard, self._here)
        cpu_s, wall_s = time.process_time() - cpu, time.perf_counter() - wall
        truth = read(clip.text, self._here)
        result, offered = judged(clip, truth, reading)
        mayday = any(isinstance(command, Mayday) and not command.cleared for command in truth.commands)
        kept = _mentions_mayday(reading)
        best = read(heard.words, self._here) if heard.words else Reading(text="")
        return Outcome(
            clip.kind, level, name, clip.text, clip.intent, clip.voice, result, offered,
            bool(truth.commands or truth.question), mayday, kept, same(truth, best), heard, _said(reading),
            len(sound) / RATE, cpu_s, wall_s,
        )  # fmt: skip

    def noise_alone(self, chance: np.random.Generator, crowd: Sequence[Samples]) -> Outcome:
        """Noise without speech (no crowd: that is speech)."""
        count = int(RATE * chance.uniform(2, 6))
        sound = noise.pump(count, chance) if chance.random() < 0.7 else noise.siren(count, chance)
        sound = sound / np.abs(sound).max() * chance.uniform(0.1, 0.9)
        clip = Clip("noise", "", "", "", sound.astype(np.float32))
        message = encode_opus((sound * 32_767).astype(np.int16), RATE, 24_000)
        heard = self._recogniser.hear(decode(message), self._graph, meaning_in(self._here))
        reading = as_reading(heard, self._here)
        result = "wrong" if reading.commands else "asked" if reading.question else "declined"
        return Outcome(
            clip.kind, None, "noise", "", "", "", result, False, False, False, False, False, heard, _said(reading),
            count / RATE, 0.0, 0.0,
        )  # fmt: skip


def _mentions_mayday(reading: Reading) -> bool:
    choices = reading.question.choices if reading.question else ()
    commands = [*reading.commands, *(command for choice in choices for command in choice.commands)]
    return any(isinstance(command, Mayday) for command in commands)


def _said(reading: Reading) -> str:
    if reading.commands:
        return " + ".join(command.intent for command in reading.commands)
    return f"? {reading.question.text}" if reading.question else f"- {reading.declined}"


# --------------------------------------------------------------------------------------------------------------- tables


def by_level(outcomes: Sequence[Outcome], kind: str) -> Iterator[tuple[int | None, list[Outcome]]]:
    """The outcomes of one kind, level by level."""
    for level in noise.LEVELS:
        yield level, [one for one in outcomes if one.kind == kind and one.level == level]


def share(part: int, whole: int) -> str:
    """A share as a percentage."""
    return f"{100 * part / whole:5.1f}%" if whole else "    - "


def table(outcomes: Sequence[Outcome], kind: str) -> str:
    """Right, asked (with the right answer offered), declined, silently wrong, and the best guess before the gate."""
    lines = [f"{kind:10} clips  right   asked  (offered)  declined  wrong   guess right"]
    for level, rows in by_level(outcomes, kind):
        rows = [row for row in rows if row.readable]
        count = len(rows)
        if not count:
            continue
        results = [row.result for row in rows]
        offered = sum(row.offered and row.result == "asked" for row in rows)
        lines.append(
            f"{'clean' if level is None else f'{level} dB':10} {count:5} {share(results.count('right'), count)}  "
            f"{share(results.count('asked'), count)}  {share(offered, count)}"
            f"     {share(results.count('declined'), count)}  {share(results.count('wrong'), count)}"
            f"  {share(sum(row.best_right for row in rows), count)}"
        )
    return "\n".join(lines)


def accepted(outcomes: Sequence[Outcome]) -> str:
    """What should have been left alone and was answered."""
    lines = []
    for kind in ("offtopic", "noise"):
        rows = [one for one in outcomes if one.kind == kind]
        if rows:
            wrong, asked = (sum(row.result == result for row in rows) for result in ("wrong", "asked"))
            lines.append(f"{kind}: {wrong} of {len(rows)} answered, {asked} asked about")
    unread = [one for one in outcomes if one.kind in {"free", "command"} and not one.readable]
    if unread:
        wrong, asked = (sum(row.result == result for row in unread) for result in ("wrong", "asked"))
        lines.append(
            f"worded so that the text reader can't read it: {wrong} of {len(unread)} answered, {asked} asked about"
        )
    return "\n".join(lines)


def mayday(outcomes: Sequence[Outcome]) -> str:
    """How many Maydays were answered, asked about or dropped, by level."""
    cells = []
    for level in noise.LEVELS:
        rows = [one for one in outcomes if one.mayday and one.level == level]
        if rows:
            name = "clean" if level is None else f"{level} dB"
            cells.append(f"{name} {sum(row.mayday_kept for row in rows)} of {len(rows)}")
    return "Mayday answered or asked about: " + ", ".join(cells) if cells else ""


def calibration(outcomes: Sequence[Outcome]) -> str:
    """Share of right best guesses by stated confidence (commands of all levels)."""
    rows = [one for one in outcomes if one.kind == "command" and one.readable]
    lines = ["confidence   clips  mean    best guess right"]
    for low, high in ((0.0, 0.2), (0.2, 0.4), (0.4, 0.6), (0.6, 0.8), (0.8, 0.9), (0.9, 0.97), (0.97, 1.01)):
        part = [row for row in rows if low <= row.heard.confidence < high]
        if part:
            mean = sum(row.heard.confidence for row in part) / len(part)
            right = share(sum(row.best_right for row in part), len(part))
            lines.append(f"{low:.2f}-{min(high, 1):.2f} {len(part):8}  {mean:.3f}  {right}")
    return "\n".join(lines)


def cost(outcomes: Sequence[Outcome], memory_mb: float) -> str:
    """Time and memory."""
    rows = [one for one in outcomes if one.cpu_s]
    audio, cpu = sum(row.audio_s for row in rows), sum(row.cpu_s for row in rows)
    waits = sorted(row.wall_s for row in rows)
    about_3s = sorted(row.wall_s for row in rows if 2.5 <= row.audio_s <= 4)
    if not waits:
        return ""
    return (
        f"{cpu / audio:.3f} CPU s per audio s over {audio / 60:.0f} min; from the end of the message to the reading: "
        f"p50 {1000 * waits[len(waits) // 2]:.0f} ms, p95 {1000 * waits[int(len(waits) * 0.95)]:.0f} ms"
        + (f", p50 of 2.5-4 s messages {1000 * about_3s[len(about_3s) // 2]:.0f} ms" if about_3s else "")
        + f"; {memory_mb:.0f} MB resident in a process that hears"
    )


def wrongs(outcomes: Sequence[Outcome], most: int = 40) -> str:
    """Every silently wrong answer, to be looked at."""
    rows = [one for one in outcomes if one.result == "wrong"]
    lines = [f"silently wrong ({len(rows)}):"]
    for row in rows[:most]:
        level = "clean" if row.level is None else f"{row.level} dB"
        lines.append(f"  {level} {row.voice} {row.noise}: said “{row.text}”, took “{row.heard.words}” ({row.said})")
    return "\n".join(lines)
