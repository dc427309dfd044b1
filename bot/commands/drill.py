"""`crosslay drill`: a timed script played through a whole incident on a simulated clock, by the same pipeline."""

from __future__ import annotations

import asyncio
import re
from collections import defaultdict
from dataclasses import dataclass
from datetime import UTC, datetime, timedelta
from pathlib import Path
from typing import TextIO

import msgspec

from bot import second_reader
from bot.api import Crosslay
from bot.errors import FileProblem, ScriptError, SettingsError
from bot.incident import Incident
from bot.message import Outgoing
from bot.message.as_json import as_line
from bot.message.reply import Handled, with_choices
from bot.rooms.choices import Choices, slash_words
from bot.settings import Settings

START = datetime(2026, 3, 2, 14, 0, tzinfo=UTC)
LONGEST = timedelta(hours=2)
SAME = {"firefighter": "crew", "engineer": "driver", "captain": "officer", "command": "officer"}
"""Other words for the three roles."""

_LINE = re.compile(r"(?P<time>\S+)\s+(?P<who>[^:]*?)\s*:\s*(?P<words>.*)")
_TIME = re.compile(r"(?:(\d{1,2}):(?=\d\d:))?(\d{1,3}):([0-5]\d)")
_COMMENT = re.compile(r"(^|\s)#(?!\d).*$")


@dataclass(frozen=True)
class ScriptLine:
    """A line of a script."""

    t_s: int
    who: str
    words: str


@dataclass(frozen=True)
class Told:
    """What one recipient was told at one moment; `handled` and `who` for a reply."""

    t_s: int
    to: str
    out: Outgoing
    who: str | None = None
    handled: Handled | None = None

    def as_object(self) -> dict[str, object]:
        """The keys of the command line's JSON."""
        return {
            "t_s": self.t_s,
            "to": self.to,
            "who": self.who,
            "kind": self.out.kind,
            "name": self.out.name or None,
            "intent": self.handled.intent if self.handled else None,
            "answer": self.handled.answer if self.handled else None,
            "text": self.out.text,
        }


def parse_time(text: str) -> int | None:
    """Seconds of MM:SS (or H:MM:SS); None when it is no such time."""
    found = _TIME.fullmatch(text)
    return None if found is None else int(found[1] or 0) * 3600 + int(found[2]) * 60 + int(found[3])


def parse_script(text: str, name: str) -> list[ScriptLine]:
    """The utterances of a script. Raises ScriptError with the line that is wrong."""
    script: list[ScriptLine] = []
    for number, raw in enumerate(text.splitlines(), start=1):
        line = _COMMENT.sub("", raw).strip()
        if not line:
            continue
        utterance = _utterance(line, name, number)
        if script and utterance.t_s < script[-1].t_s:
            raise ScriptError(name, number, "this time is before the line above it; put the lines in order of time.")
        script.append(utterance)
    if not script:
        raise ScriptError(name, 1, "the script holds no line; write lines like: 00:05 driver: charge crosslay 1")
    return script


def _utterance(line: str, name: str, number: int) -> ScriptLine:
    found = _LINE.fullmatch(line)
    if found is None:
        raise ScriptError(name, number, "write a line as MM:SS who: what was said.")
    t_s = parse_time(found["time"])
    if t_s is None:
        raise ScriptError(name, number, f"{found['time']!r} is no time; write minutes and seconds as MM:SS.")
    who, words = " ".join(found["who"].split()).casefold(), found["words"].strip()
    if who == "dispatch":
        return ScriptLine(t_s, "officer", f"dispatch: {words}")
    if not who or not words:
        missing = "who says it" if not who else "what is said"
        raise ScriptError(name, number, f"{missing} is missing; write a line as MM:SS who: what was said.")
    return ScriptLine(t_s, SAME.get(who, who), words)


class Drill:
    """A script on its way: `play` gives what is said and what everybody is told, in order of time."""

    def __init__(self, incident: Incident) -> None:
        self._incident = incident
        self._start = incident.clock.now()
        self._story: list[ScriptLine | Told] = []
        self._choices: defaultdict[str, Choices] = defaultdict(Choices)

    async def play(self, script: list[ScriptLine], until: timedelta | None = None) -> list[ScriptLine | Told]:
        """Play the lines, then let the clock run on to `until` (None: until the incident is closed, or two hours)."""
        for utterance in script:
            at = self._start + timedelta(seconds=utterance.t_s)
            await self._run_to(at, including=False)
            self._incident.clock.move_to(at)
            self._story.append(utterance)
            choices = self._choices[utterance.who]
            words = slash_words(utterance.words)
            handled = await self._incident.say(utterance.who, words, button=choices.pressed(words))
            choices.took(handled)
            self._note(self._incident.take(), utterance, handled)
        end = self._start + (until if until is not None else LONGEST)
        await self._run_to(end, including=True, while_open=until is None)
        return self._story

    async def _run_to(self, end: datetime, *, including: bool, while_open: bool = False) -> None:
        """Let the clock run to `end`, from reminder to reminder."""
        if while_open and not (await self._incident.history()).scene.open:
            return
        async for told in self._incident.reminders(end, including=including):
            self._note(told)
            if while_open and not (await self._incident.history()).scene.open:
                return

    def _note(self, told: list[Outgoing], utterance: ScriptLine | None = None, handled: Handled | None = None) -> None:
        """Take down what has just been told; a reply with who it answers."""
        t_s = int((self._incident.clock.now() - self._start).total_seconds())
        for out in told:
            to = out.room.partition(":")[2]
            self._choices[to].shown(out)
            if out.kind == "reply" and utterance is not None:
                self._story.append(Told(t_s, to, out, utterance.who, handled))
            else:
                self._story.append(Told(t_s, to, out))


def play_file(settings: Settings, path: str, *, start: str, until: str, as_json: bool, out: TextIO) -> None:
    """Play a script's file and print what everybody is told.

    Raises:
        FileProblem, ScriptError, SettingsError: the file, one of its lines, or an option is wrong.
    """
    script = parse_script(text_of(path), path)
    second_reader.load(settings)
    story = asyncio.run(_play(settings, script, _start(start), _until(until)))
    for happening in story:
        if not as_json:
            print(_as_text(happening), file=out)
        elif isinstance(happening, Told):
            print(as_line(happening.as_object()), file=out)


async def _play(
    settings: Settings, script: list[ScriptLine], start: datetime, until: timedelta | None
) -> list[ScriptLine | Told]:
    people = {line.who for line in script}
    async with Crosslay.of(settings).incident(start, people) as incident:
        return await Drill(incident).play(script, until)


def text_of(path: str) -> str:
    """A drill script's text. Raises FileProblem."""
    try:
        return Path(path).read_text("utf-8-sig")
    except FileNotFoundError:
        raise FileProblem(path, "there is no such drill script.") from None
    except UnicodeDecodeError:
        raise FileProblem(path, "the drill script isn't UTF-8 text; save it as UTF-8.") from None
    except OSError as error:
        raise FileProblem(path, f"the drill script can't be read ({error.strerror}).") from None


def _start(text: str) -> datetime:
    if not text:
        return START
    try:
        at = msgspec.convert(text if re.search(r"(Z|[+-]\d\d:?\d\d)$", text) else f"{text}Z", datetime)
    except msgspec.ValidationError:
        raise SettingsError("--start", f"{text!r} is no time; write it like 2026-03-02T14:00:00Z.") from None
    return at.astimezone(UTC)


def _until(text: str) -> timedelta | None:
    if not text:
        return None
    t_s = parse_time(text)
    if t_s is None:
        raise SettingsError("--until", f"{text!r} is no time; write minutes and seconds as MM:SS.")
    return timedelta(seconds=t_s)


def _as_text(happening: ScriptLine | Told) -> str:
    """The drill as people read it: what was said, and under it who was told what."""
    if isinstance(happening, ScriptLine):
        return f"{_clock(happening.t_s)} {happening.who}: {happening.words}"
    mark = {"reminder": " (reminder)", "alert": " (ALERT)"}.get(happening.out.kind, "")
    shown = with_choices(happening.out.text, [button.label for button in happening.out.buttons])
    text = shown.replace("\n", "\n        ")
    return f"{_clock(happening.t_s)}   → {happening.to}{mark}: {text}"


def _clock(t_s: int) -> str:
    return f"{t_s // 60:02}:{t_s % 60:02}"
