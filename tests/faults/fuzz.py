"""Anything that may come from outside, by fixed budgets: nothing of it may raise what isn't one of our own errors."""

from __future__ import annotations

import asyncio
import random
import traceback
from collections.abc import AsyncIterator, Callable, Coroutine
from dataclasses import dataclass, field
from datetime import UTC, datetime
from functools import cache
from importlib.resources import files
from typing import Any, TypeVar

from hypothesis import HealthCheck, Phase, given, settings
from hypothesis import strategies as st

import bot.rigs
from bot import rigs
from bot.api import Crosslay
from bot.commands.drill import Drill, parse_script
from bot.incident import Incident
from bot.message import Message
from bot.message.as_json import as_line, as_object
from bot.message.context import build
from bot.message.pipeline import FAULT
from bot.message.reply import Handled, work_out
from bot.settings import Settings
from bot.speech.audio import decode
from bot.speech.voice import EspeakVoice
from grammar.reader import read
from grammar.vocabulary import vocabulary
from handlers.errors import CrosslayError
from handlers.history import History
from handlers.outcome import Said
from handlers.scene import Scene
from tests.faults.counts import Counts
from tests.faults.fuzzing_updates import updates
from tests.grammar.corpus.loader import cases

T = TypeVar("T")
NOON = datetime(2026, 3, 7, 12, 0, tzinfo=UTC)
DEMONSTRATION = files(bot.rigs).joinpath(bot.rigs.DEMONSTRATION).read_text("utf-8")
ANY_TEXT = st.text(st.characters(exclude_categories=()), max_size=120)
"""The whole of Unicode, lone surrogates and unassigned characters among it."""
_WORDS = sorted(vocabulary().spoken)
_SAID = [case.expected.say for case in cases()]
_PIECES = st.sampled_from(_WORDS) | st.sampled_from(_SAID) | ANY_TEXT | st.integers().map(str) | st.floats().map(str)
POISON = (
    "\ud800", "mayday \udfff second floor", "➊", "➊ line, 200 feet", "-1:00", "engine 9 in at -1:00", "²", "٣ lines",
    "1" * 400, "9" * 25 + " feet", "remind me in 1e308 minutes", "\x00", "on scene \x00", "\u202e200 feet", "½" * 50,
    "99:99", "24:00 on scene", "remind me in 99999999999 minutes to check hose", "charge 10000000000000000 lines",
    "% 79998 79998 0 bore m", "0 inch tip at 600", "0.0 616 616 engine 9 out of the building",
)  # fmt: skip
"""What has gone wrong once, or looks as if it could; always tried first."""
MIXED_TEXT = st.lists(_PIECES, max_size=8).map(" ".join)
"""Words of the trade, whole sentences and numbers of any size, run into each other and into anything."""


@dataclass
class Law:
    """What a budget of examples came to."""

    what: str
    tried: int = 0
    uncaught: dict[str, str] = field(default_factory=dict)
    """Where it was raised, and the shortest example that did it."""

    def caught(self, error: BaseException, example: object) -> None:
        frames = [frame for frame in traceback.extract_tb(error.__traceback__) if "/tests/" not in frame.filename]
        last = frames[-1] if frames else None
        ours = next(
            (f for f in reversed(frames) if "site-packages" not in f.filename and "/lib/" not in f.filename), last
        )
        where = f"{type(error).__name__} in {ours.filename.rpartition('/')[2]}:{ours.lineno}" if ours else repr(error)
        self.wrong(f"{where} ({str(error)[:60]!r})" if where not in self.uncaught else where, ascii(example), where)

    def wrong(self, how: str, example: str, key: str = "") -> None:
        """Keeps the shortest example of each way of going wrong."""
        known = self.uncaught.get(key or how)
        if known is None or len(example) < len(known):
            self.uncaught[key or how] = example

    def counted(self, counts: Counts) -> None:
        counts.tried(f"{self.what}: tried", self.tried)
        counts.none(f"{self.what}: uncaught", [f"{how}: {said[:200]}" for how, said in self.uncaught.items()])


def drawn(strategy: st.SearchStrategy[T], budget: int, use: Callable[[T], None]) -> None:
    """So many examples of a strategy, the same ones every time."""

    @settings(
        max_examples=budget, derandomize=True, database=None, deadline=None, phases=[Phase.generate],
        suppress_health_check=list(HealthCheck),
    )  # fmt: skip
    @given(strategy)
    def each(example: T) -> None:
        use(example)

    each()


def holds(what: str, strategy: st.SearchStrategy[T], budget: int, use: Callable[[T], None]) -> Law:
    """Draws examples and keeps what isn't one of our own errors."""
    law = Law(what)

    def each(example: T) -> None:
        law.tried += 1
        try:
            use(example)
        except CrosslayError:
            pass
        except Exception as error:
            law.caught(error, example)

    drawn(strategy, budget, each)
    return law


def examples(strategy: st.SearchStrategy[T], budget: int) -> list[T]:
    found: list[T] = []
    drawn(strategy, budget, found.append)
    return found


# --- text


@cache
def _asker() -> Crosslay:
    return Crosslay.of(Settings(timezone="UTC"))


def read_and_answered(text: str) -> None:
    """As `crosslay ask --json` does it."""
    read(text, _asker().context)
    as_line(as_object(_asker().answer(text)))


async def said_at_a_fire(texts: list[str]) -> Law:
    """Said in the rooms of an incident, through the whole pipeline; a fault's reply counts as uncaught."""
    law = Law("text said at a fire")
    rehearsal = await Incident.open(rigs.load(), UTC, NOON)
    chance = random.Random(7)
    try:
        await rehearsal.say("officer", "engine 12 on scene")
        for text in texts:
            law.tried += 1
            rehearsal.clock.advance(chance.random() * 20)
            try:
                handled = await rehearsal.say(chance.choice(["officer", "driver", "crew", "engine 9"]), text)
                if FAULT in handled.reply or handled.reading.declined == FAULT:
                    law.wrong("the fault reply", ascii(text))
                elif law.tried % 10 == 0:
                    await rehearsal.jump_to(rehearsal.clock.now())
            except Exception as error:
                law.caught(error, text)
                await rehearsal.close()
                rehearsal = await Incident.open(rigs.load(), UTC, NOON)
                await rehearsal.say("officer", "engine 12 on scene")
    finally:
        await rehearsal.close()
    return law


# --- rig files

_ODD_VALUES = st.sampled_from(
    ["1e308", "-1e308", "nan", "inf", "-1", "0", "10000000000000000000000", "1e-300", '""', "true", "[[1], [2]]", "{}",
     "[]", "1979-05-27", '"\\u0000"', '"' + "x" * 500 + '"', "[" * 5000 + "]" * 5000, "0x7fffffffffffffff", "'\ud800'"]
)  # fmt: skip


@st.composite
def rig_files(draw: st.DrawFn) -> str:
    """The demonstration rig with values replaced, lines doubled, dropped, swapped or spoilt."""
    lines = DEMONSTRATION.splitlines()
    for _ in range(draw(st.integers(1, 4))):
        at = draw(st.integers(0, len(lines) - 1))
        match draw(st.integers(0, 5)):
            case 0 | 1 | 2 if "=" in lines[at]:
                lines[at] = f"{lines[at].partition('=')[0]}= {draw(_ODD_VALUES)}"
            case 3:
                lines.insert(at, draw(st.sampled_from(lines)))
            case 4:
                del lines[at]
            case _:
                lines[at] = draw(ANY_TEXT)
    return "\n".join(lines)


def rig_used(text: str) -> None:
    """Read; and where it is taken, asked of."""
    known = rigs.Rigs([rigs.parse(text.encode("utf-8", "replace").decode(), "rig.toml")])  # as a file holds it
    context = build(known.own, known.own_unit, Scene(), addressed=True)
    said = Said(at=NOON, unit=known.own_unit, tz=UTC, live=False, everyone_here=True)
    for words in ("crosslay 1", "two lines, 200 feet, 1.75, second floor", "deck gun", "tank time at 150 gpm", "chart"):
        as_line(as_object(work_out(words, context, History(), known.own, said)))


# --- recordings


@st.composite
def recordings(draw: st.DrawFn) -> bytes:
    """A voice message or a sound file with bytes changed, cut out, doubled, or none of it at all."""
    speech = _speech()
    data = bytearray(draw(st.sampled_from(speech)) if draw(st.integers(0, 9)) else draw(st.binary(max_size=200)))
    for _ in range(draw(st.integers(0, 5))):
        if not data:
            break
        at = draw(st.integers(0, len(data) - 1))
        match draw(st.integers(0, 3)):
            case 0:
                data[at] = draw(st.integers(0, 255))
            case 1:
                del data[at : at + draw(st.integers(1, 400))]
            case 2:
                data[at:at] = draw(st.binary(max_size=40))
            case _:
                data[at:at] = data[: draw(st.integers(0, 400))]
    return bytes(data)


_SPEECH: list[bytes] = []


def _speech() -> list[bytes]:
    """The same words as OGG/Opus and as WAV, and the header of a playlist."""
    if not _SPEECH:
        import io
        import wave

        spoken = EspeakVoice().speak("crosslay one")
        sound = io.BytesIO()
        with wave.open(sound, "wb") as file:
            file.setnchannels(1)
            file.setsampwidth(2)
            file.setframerate(spoken.rate)
            file.writeframes(spoken.pcm.tobytes())
        _SPEECH.extend([spoken.as_voice_message(), sound.getvalue(), b"v=0\r\nm=audio 9 RTP/AVP 0\r\n", b"#EXTM3U\n"])
    return _SPEECH


def decoded(data: bytes) -> None:
    decode(data)


# --- drills

_SPEAKERS = st.sampled_from(["driver", "officer", "crew", "engine 9", "dispatch", ""]) | ANY_TEXT
_TIMES = st.sampled_from(["00:00", "00:10", "1:00:00", "999:59", "00:60", "-1:00", "²:00", "٠٠:٠٠", ""]) | ANY_TEXT
_LINE = st.tuples(_TIMES, _SPEAKERS, MIXED_TEXT).map(lambda parts: f"{parts[0]} {parts[1]}: {parts[2]}")
DRILLS = st.lists(_LINE | st.tuples(st.sampled_from(["00:01 driver: ", "00:01 officer: "]), MIXED_TEXT).map("".join),
                  max_size=4).map("\n".join)  # fmt: skip


async def played(script: str) -> None:
    """As `crosslay drill` does it, for ten minutes."""
    utterances = parse_script(script, "a.drill")
    rehearsal = await Incident.open(rigs.load(), UTC, NOON, {utterance.who for utterance in utterances})
    try:
        story = await Drill(rehearsal).play(utterances, None)
    finally:
        await rehearsal.close()
    for happening in story:
        if getattr(getattr(happening, "out", None), "text", "") == FAULT:
            raise RuntimeError("the fault reply")


async def plays(scripts: list[str]) -> Law:
    law = Law("drill scripts")
    for script in scripts:
        law.tried += 1
        try:
            await played(script)
        except CrosslayError:
            pass
        except Exception as error:
            law.caught(error, script)
    return law


# --- button ids

BUTTONS = (
    st.from_regex(r"q?\d{1,40}:\d{1,40}", fullmatch=True)
    | st.from_regex(r"q[-+ ²٣]?\d{0,5}:?\d*", fullmatch=True)
    | ANY_TEXT.filter(bool)
)


async def pressed(ids: list[str]) -> Law:
    """Buttons that were never made, or long ago."""
    law = Law("button ids")
    rehearsal = await Incident.open(rigs.load(), UTC, NOON)
    try:
        await rehearsal.say("officer", "all clear")
        for data in ids:
            law.tried += 1
            try:
                handled = await press(rehearsal, data, law.tried)
                if FAULT in handled.reply or handled.reading.declined == FAULT:
                    law.wrong("the fault reply", ascii(data))
            except Exception as error:
                law.caught(error, data)
    finally:
        await rehearsal.close()
    return law


async def press(rehearsal: Incident, data: str, number: int) -> Handled:
    message = Message(
        room="drill:officer", id=f"press-{number}", who="officer", at=NOON, button=data, role="officer",
        unit="engine 12", title="officer", addressed=True,
    )  # fmt: skip
    handled = await rehearsal._pipeline.say(message)
    assert handled is not None
    return handled


async def run(full: bool) -> AsyncIterator[Counts]:
    """Fixed budgets: 20,000 texts at full length, 60 in short; the others in proportion to what they cost."""
    size = 1 if full else 0
    counts = Counts("anything from outside, by fixed budgets")
    loose: list[Callable[[], Law]] = [
        lambda: holds("text known to be odd", st.sampled_from(POISON), len(POISON) * 4, read_and_answered),
        lambda: holds("text of the whole of Unicode", ANY_TEXT, (150, 20_000)[size], read_and_answered),
        lambda: holds("text mixed of anything", MIXED_TEXT, (100, 20_000)[size], read_and_answered),
        lambda: holds("rig files", rig_files(), (40, 3_000)[size], rig_used),
        lambda: holds("recordings", recordings(), (60, 5_000)[size], decoded),
    ]
    for law in loose:
        (await asyncio.to_thread(law)).counted(counts)
    at_once: list[Coroutine[Any, Any, Law]] = [
        said_at_a_fire(list(POISON) + examples(MIXED_TEXT, (60, 5_000)[size])),
        pressed(examples(BUTTONS, (60, 3_000)[size])),
        plays(examples(DRILLS, (15, 800)[size])),
        updates((60, 4_000)[size]),
    ]
    for running in at_once:
        (await running).counted(counts)
    yield counts
