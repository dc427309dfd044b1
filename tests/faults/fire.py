"""Two companies at work on Telegram, each on its own incident, and everything that they said and were told."""

from __future__ import annotations

import random
import re
import time
from collections import Counter
from collections.abc import Iterator
from dataclasses import dataclass, field
from functools import cache
from importlib.resources import files
from pathlib import Path

import bot.rigs
from bot.speech.voice import EspeakVoice
from tests.faults.counts import Counts
from tests.telegram.objects import Chat, Message
from tests.telegram.server import BotApiServer
from tests.telegram.world import Person

AGAIN = "(sent again: it may be here already) "
UNITS = ("Engine 12", "Engine 9")
BOARD = re.compile(r"\d{4}-\d\d-\d\d-\d+")
"""How a status board begins."""
RECORDED = "two lines, two hundred feet, one and three quarter"


@cache
def recording() -> bytes:
    """A voice message that the ear knows well."""
    return EspeakVoice().speak(RECORDED).as_voice_message()


def rig_text(unit: str, rooms: dict[str, int]) -> str:
    """The demonstration rig under another name, with its rooms."""
    text = files(bot.rigs).joinpath(bot.rigs.DEMONSTRATION).read_text("utf-8")
    table = "".join(f'{role} = "{chat}"\n' for role, chat in rooms.items())
    text = text.replace('name = "Engine 12"', f'name = "{unit}"', 1).replace("[rooms]\n", f"[rooms]\n{table}", 1)
    return f"{text}\n[intervals]\nquiet_gap_s = 0\n"


@dataclass
class Company:
    """A driver and an officer with private chats, and the crew's group."""

    unit: str
    driver: Person
    officer: Person
    crew: Chat

    @property
    def seats(self) -> list[tuple[Person, Chat]]:
        """Who talks where."""
        return [
            (self.driver, self.driver.private),
            (self.officer, self.officer.private),
            (self.driver, self.crew),
            (self.officer, self.crew),
        ]


@dataclass
class Timer:
    """A person's own timer."""

    label: str
    due: float
    """Unix time."""
    set_by: Message


@dataclass
class Fire:
    """The rooms, what was said in them, and the account of it."""

    telegram: BotApiServer
    companies: list[Company]
    chance: random.Random
    said: list[Message] = field(default_factory=list)
    timers: list[Timer] = field(default_factory=list)
    recordings: set[Message] = field(default_factory=set)
    _numbers: Iterator[int] = field(default_factory=lambda: iter(range(1, 10**6)))

    @classmethod
    def begin(cls, telegram: BotApiServer, folder: Path, seed: int, units: tuple[str, ...] = UNITS) -> Fire:
        """The companies with their rig files in `folder`, and nothing said yet."""
        companies = []
        for number, unit in enumerate(units):
            driver, officer = telegram.person(f"Driver{number}"), telegram.person(f"Officer{number}")
            crew = telegram.group(unit, driver, officer)
            telegram.set_bot(crew, "administrator", by=officer)
            rooms = {"driver": driver.private.id, "officer": officer.private.id, "crew": crew.id}
            (folder / f"{number}.toml").write_text(rig_text(unit, rooms), "utf-8")
            companies.append(Company(unit, driver, officer, crew))
        return cls(telegram, companies, random.Random(seed))

    @property
    def chats(self) -> list[Chat]:
        return [chat for company in self.companies for _, chat in company.seats[:3]]

    def open_incidents(self) -> None:
        """Both arrive, so that timers run."""
        for company in self.companies:
            self.said.append(company.officer.says(f"{company.unit} on scene"))

    def ask(self) -> None:
        """Somebody asks something that is answered with a number."""
        who, where = self._seat()
        self.said.append(who.says(f"tank time at {self.chance.randrange(60, 400)} gpm", where))

    def record(self) -> None:
        """Somebody sends a voice message."""
        who, where = self._seat()
        self.said.append(who.sends_voice(recording(), where))
        self.recordings.add(self.said[-1])

    def set_timer(self, seconds: int) -> None:
        """Somebody sets a timer of their own."""
        who, where = self._seat()
        number = next(self._numbers)
        label = f"check hose {number}"
        self.said.append(who.says(f"remind me in {seconds} seconds to {label}", where))
        self.timers.append(Timer(label, self.said[-1].date + seconds, self.said[-1]))

    def _seat(self) -> tuple[Person, Chat]:
        return self.chance.choice(self.chance.choice(self.companies).seats)

    # --- the account

    @property
    def answers(self) -> list[Message]:
        return [message for chat in self.chats for message in chat.from_bot if message.reply_to]

    def count_refused(self, counts: Counts) -> None:
        """Calls that the service refuses; a board may be edited to what it shows already, once after a start."""
        refused = [call for call in self.telegram.refused if "message is not modified" not in call]
        counts.none("calls that the service refused", list(refused))

    @property
    def all_answered(self) -> bool:
        return {message.reply_to for message in self.answers} >= set(self.said)

    def told_at(self) -> dict[str, list[tuple[float, str]]]:
        """When each timer was told (Unix time), and with what words; boards and answers are no tellings."""
        ahead = time.time() - time.monotonic()
        told: dict[str, list[tuple[float, str]]] = {timer.label: [] for timer in self.timers}
        for call in self.telegram.called("sendMessage"):
            text = str(call.given.get("text", ""))
            if call.status != 200 or "reply_parameters" in call.given or BOARD.match(text):
                continue
            for label in re.findall(r"check hose \d+", text):
                if label in told:
                    told[label].append((call.at + ahead, text))
        return told

    @property
    def all_told(self) -> bool:
        return all(self.told_at().values())

    def count_answers(self, counts: Counts) -> None:
        """Lost, doubled without a word, out of order."""
        answers, order = self.answers, self._out_of_order()
        counts.tried("messages", len(self.said))
        counts.tried("  voice messages among them", len(self.recordings))
        answered = {answer.reply_to for answer in answers}
        counts.none("messages lost (no answer)", [m for m in self.said if m not in answered])
        unmarked = Counter(a.reply_to for a in answers if not (a.text or "").startswith(AGAIN))
        counts.none("answers repeated unmarked", [m for m, number in unmarked.items() if number > 1])
        counts.tried("answers repeated and marked so", sum((a.text or "").startswith(AGAIN) for a in answers))
        counts.none("typed messages answered out of order in their room", order)
        faulty = [a for a in answers if "something is wrong inside Crosslay" in (a.text or "")]
        counts.none("answers that say that something inside failed", faulty)

    def _out_of_order(self) -> list[object]:
        """First answers that came after a later message's. A recording may be overtaken, so it isn't counted."""
        wrong: list[object] = []
        for chat in self.chats:
            last = 0
            for asked in dict.fromkeys(m.reply_to for m in chat.from_bot if m.reply_to):
                if asked is None or asked in self.recordings:
                    continue
                if asked.message_id < last:
                    wrong.append(asked)
                last = max(last, asked.message_id)
        return wrong

    def _answered_at(self) -> dict[tuple[int, int], float]:
        """When each message got its first answer, in Unix time, by chat and number."""
        ahead, first = time.time() - time.monotonic(), dict[tuple[int, int], float]()
        for call in self.telegram.called("sendMessage"):
            if call.status == 200 and (replied := call.given.get("reply_parameters")):
                first.setdefault((call.given["chat_id"], replied["message_id"]), call.at + ahead)
        return first

    def count_timers(self, counts: Counts, up: list[tuple[float, float]]) -> None:
        """Not told, told twice without a word, and how late by the time that the program was there to tell it."""
        told = self.told_at()
        counts.tried("timers of their own", len(self.timers))
        counts.none("timers not told by their own words", [t.label for t in self.timers if not told[t.label]])
        twice = {label: [text for _, text in times if AGAIN not in text] for label, times in told.items()}
        counts.none("timers told twice unmarked", [label for label, texts in twice.items() if len(texts) > 1])
        early = [t for t in self.timers if told[t.label] and told[t.label][0][0] < t.due - 0.05]
        counts.none("timers told before their time", list(early))
        known = self._answered_at()
        late = [
            _overlap(max(t.due, known.get((t.set_by.chat.id, t.set_by.message_id), t.due)), told[t.label][0][0], up)
            for t in self.timers
            if told[t.label]
        ]
        counts.tried("timers that fell due while nothing ran", sum(not _within(t.due, up) for t in self.timers))
        counts.at_most("latest timer, s of serving after it was due and set", max(late, default=0.0), 2, timed=True)


def _overlap(start: float, end: float, spans: list[tuple[float, float]]) -> float:
    """How much of the time from start to end lies in the spans."""
    return sum(max(0.0, min(end, until) - max(start, since)) for since, until in spans)


def _within(at: float, spans: list[tuple[float, float]]) -> bool:
    return any(since <= at <= until for since, until in spans)
