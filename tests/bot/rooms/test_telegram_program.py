"""The real program over HTTP: answered, killed, started again, and nothing twice or lost."""

import time
from collections import Counter
from pathlib import Path

from bot.speech.voice import EspeakVoice
from tests.bot.rooms.program import Program
from tests.telegram.server import BotApiServer

LAY = "two lines, 200 feet, 1.75, second floor"
AGAIN = "(sent again: it may be here already) "


async def test_a_first_evening(telegram: BotApiServer, tmp_path: Path) -> None:
    dana = telegram.person("Dana")
    program = await Program(telegram, tmp_path, dana.private).start()
    asked = dana.says(LAY)
    answer = await dana.private.hears("175 psi, 300 gpm", timeout_s=30)
    assert answer.reply_to is asked
    spoken = EspeakVoice().speak("two lines, two hundred feet, one and three quarter")
    dana.sends_voice(spoken.as_voice_message())
    heard = await dana.private.hears("170 psi, 300 gpm", timeout_s=30)
    assert (heard.text or "").startswith("Heard: two lines two hundred feet one and three quarter\n")
    assert [command["command"] for command in telegram.commands['{"type": "default"}']][:3] == [
        "pump",
        "tank",
        "status",
    ]
    status, out, err = await program.end()
    assert (status, err) == (0, "")
    assert "Serving 1 room(s) on Telegram as @crosslay_test_bot." in out
    assert telegram.token not in program.everything_written() + out
    assert telegram.refused == []


async def test_killed_again_and_again_nothing_is_lost_or_done_twice(telegram: BotApiServer, tmp_path: Path) -> None:
    dana, lee = telegram.person("Dana"), telegram.person("Lee")
    program = Program(telegram, tmp_path, dana.private, lee.private)
    asked = []
    for _ in range(4):
        await program.start()
        asked += [who.says(LAY) for _ in range(5) for who in (dana, lee)]
        answered = len(asked) - 5
        await telegram.until(
            lambda: len(dana.private.from_bot) + len(lee.private.from_bot) >= answered,  # noqa: B023
            timeout_s=30,
        )
        await program.kill()
    await program.start()
    for who in (dana, lee):
        mine = [message for message in asked if message.sender is who]
        await telegram.until(
            lambda: {m.reply_to for m in who.private.from_bot} >= set(mine),  # noqa: B023
            timeout_s=30,
        )
    await program.end()
    for who in (dana, lee):
        replies = [m for m in who.private.from_bot if m.reply_to]
        first_time = [m.reply_to for m in replies if not (m.text or "").startswith(AGAIN)]
        assert max(Counter(first_time).values()) == 1, "a reply came twice and didn't say so"
        numbers = [m.reply_to.message_id for m in replies if m.reply_to]
        assert numbers == sorted(numbers), "the replies are out of order"
    assert telegram.refused == []


async def test_a_reply_on_its_way_when_it_was_killed_comes_marked(telegram: BotApiServer, tmp_path: Path) -> None:
    dana = telegram.person("Dana")
    program = await Program(telegram, tmp_path, dana.private).start()
    telegram.fault("sendMessage", lose_answer=True)
    telegram.fault("sendMessage", hold=True)
    dana.says(LAY)
    await telegram.until(lambda: telegram.faults[1].hits == 1, timeout_s=30)
    await program.kill()
    await program.start()
    await dana.private.hears("175 psi")
    again = await dana.private.hears("175 psi", timeout_s=30)
    await program.end()
    assert (again.text or "").startswith(AGAIN)
    assert len(dana.private.from_bot) == 2


async def test_the_crew_is_reminded_after_a_restart(tmp_path: Path) -> None:
    ago_s = 0.0
    async with BotApiServer(clock=lambda: time.time() - ago_s) as telegram:
        dana, lee = telegram.person("Dana"), telegram.person("Lee")
        crew = telegram.group("Engine 12", dana, lee)
        telegram.set_bot(crew, "administrator", by=dana)
        program = await Program(telegram, tmp_path, dana.private, crew, crew_room=crew).start()
        ago_s = 597  # said so long ago that the ten minutes are over in three seconds
        dana.says("on scene")
        await dana.private.hears("On scene", timeout_s=30)
        await program.kill()
        await program.start()
        reminder = await crew.hears("Elapsed: 10 min on scene", timeout_s=30)
        await telegram.until(lambda: telegram.confirmed)
        status, _, err = await program.end()
        assert (status, err) == (0, "")
        assert reminder.silent
        assert sum("Elapsed: 10 min on scene" in (m.text or "") for m in crew.from_bot) == 1
        assert telegram.refused == []


async def test_what_is_missing_is_said_in_one_line(telegram: BotApiServer, tmp_path: Path) -> None:
    dana = telegram.person("Dana")
    program = Program(telegram, tmp_path, dana.private)
    program.environment["CROSSLAY_TELEGRAM_TOKEN"] = "7000001:AAnot-the-token-of-this-test-server-00"
    status, out, err = await program.command("telegram")
    assert (status, out) == (1, "")
    assert err == "CROSSLAY_TELEGRAM_TOKEN: the service doesn't accept this token.\n"
    program.environment["CROSSLAY_TELEGRAM_TOKEN"] = ""
    status, out, err = await program.command("telegram")
    assert (status, out) == (1, "")
    assert err.startswith("CROSSLAY_TELEGRAM_TOKEN: it isn't set")
    assert err.count("\n") == 1


async def test_check_says_what_stands_in_the_way(telegram: BotApiServer, tmp_path: Path) -> None:
    dana = telegram.person("Dana")
    crew = telegram.group("Engine 12", dana)
    telegram.privacy = True
    program = Program(telegram, tmp_path, dana.private, crew)
    _, out, _ = await program.command("check")
    line = next(line for line in out.splitlines() if "Telegram" in line)
    for part in ("@crosslay_test_bot serves 2 room(s)", f"{dana.id} can't be reached", "privacy mode is on", "pin"):
        assert part in line
    dana.says("hello")
    telegram.set_bot(crew, "administrator", by=dana)
    telegram.privacy = False
    program.environment["CROSSLAY_CREW_ROOM"] = str(crew.id)
    _, out, _ = await program.command("check")
    assert "ok       Telegram: @crosslay_test_bot serves 2 room(s)\n" in out
