"""A hand trial: the test server with a few people, driven by typed lines, for a bot that runs beside it."""

import argparse
import asyncio
import sys
from pathlib import Path

from tests.telegram.objects import Chat, Message
from tests.telegram.server import BotApiServer
from tests.telegram.world import Person

_HELP = """Lines:
  NAME: words              writes in their private chat       Dana: two lines, 200 feet, 1.75, second floor
  NAME@crew: words         writes in the crew's group         Lee@crew: primary all clear
  NAME voice FILE          sends a voice message (OGG/Opus); NAME@crew voice FILE in the group
  NAME press LABEL         presses a button of the newest message that has it
  quit"""


class Trial:
    """Two people, a driver and an officer, with their private chats and one crew group."""

    def __init__(self, server: BotApiServer) -> None:
        self.server = server
        self.people = {"Dana": server.person("Dana"), "Lee": server.person("Lee")}
        self.crew = server.group("Engine 12", *self.people.values())
        server.set_bot(self.crew, "administrator", by=self.people["Dana"])
        server.updates.clear()
        self._shown: dict[Message, str] = {}

    def set_up(self) -> str:
        """The settings that a bot needs to talk to this server, as environment lines."""
        rooms = ",".join(str(chat_id) for chat_id in [*(p.id for p in self.people.values()), self.crew.id])
        return (
            f"export CROSSLAY_TELEGRAM_API={self.server.api}\n"
            f"export CROSSLAY_TELEGRAM_TOKEN={self.server.token}\n"
            f"export CROSSLAY_ROOMS={rooms}\n"
            f"export CROSSLAY_CREW_ROOM={self.crew.id}"
        )

    def do(self, line: str) -> None:
        """Plays one typed line; ValueError says what is wrong with it."""
        head, colon, words = line.partition(":")
        if colon and " " not in head.strip():
            person, chat = self._who(head)
            person.says(words.strip(), chat)
            return
        name, _, rest = line.partition(" ")
        verb, _, what = rest.partition(" ")
        person, chat = self._who(name)
        if verb == "voice":
            person.sends_voice(Path(what).read_bytes(), chat)
        elif verb == "press":
            person.presses(self._with_button(what), what)
        else:
            raise ValueError(_HELP)

    def _who(self, name: str) -> tuple[Person, Chat]:
        first, _, room = name.strip().partition("@")
        if first not in self.people or room not in ("", "crew"):
            raise ValueError(f"people: {', '.join(self.people)}; room: crew")
        person = self.people[first]
        return person, self.crew if room else person.private

    def _with_button(self, label: str) -> Message:
        messages = sorted((m for c in self.server.chats.values() for m in c.from_bot), key=lambda m: m.message_id)
        found = next((m for m in reversed(messages) if label in m.buttons), None)
        if found is None:
            raise ValueError(f"no message has a button {label!r}")
        return found

    def news(self) -> list[str]:
        """What the bot wrote or changed since the last call."""
        lines = []
        for chat in self.server.chats.values():
            where = chat.title or (chat.person.first_name if chat.person else str(chat.id))
            for message in chat.from_bot:
                shown = f"{message.text or message.caption}" + "".join(f" [{label}]" for label in message.buttons)
                if self._shown.get(message) != shown:
                    mark = " (edited)" if message in self._shown else " (silent)" if message.silent else ""
                    lines.append(f"{where}{mark}: {shown}")
                    self._shown[message] = shown
        return lines


async def _print_news(trial: Trial) -> None:
    while True:
        await trial.server.next_change()
        for line in trial.news():
            print(line, flush=True)


async def _run(port: int) -> None:
    async with BotApiServer(port=port) as server:
        trial = Trial(server)
        print(trial.set_up(), _HELP, sep="\n\n", flush=True)
        printing = asyncio.create_task(_print_news(trial))
        while line := await asyncio.to_thread(sys.stdin.readline):
            if line.strip() == "quit":
                break
            try:
                if line.strip():
                    trial.do(line.strip())
            except (ValueError, OSError, AssertionError) as wrong:
                print(wrong, flush=True)
        printing.cancel()


def main() -> None:
    """Runs the server until its standard input ends."""
    parser = argparse.ArgumentParser(prog="python -m tests.telegram.server", description=__doc__)
    parser.add_argument("--port", type=int, default=8081)
    asyncio.run(_run(parser.parse_args().port))


if __name__ == "__main__":
    main()
