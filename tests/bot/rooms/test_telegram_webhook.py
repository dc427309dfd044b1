"""Webhook mode, tested as polling is: answered, in order, nothing twice, nothing lost, and only what has the secret."""

import time
from collections import Counter
from pathlib import Path

import httpx
import pytest
from sqlalchemy.exc import OperationalError

from bot.errors import SettingsError
from bot.settings import Settings, load
from bot.store import inbox
from tests.bot.rooms.at_work import all_read, at_work, free_port
from tests.bot.rooms.program import Program
from tests.telegram.server import BotApiServer

LAY = "two lines, 200 feet, 1.75, second floor"
AGAIN = "(sent again: it may be here already) "


async def test_a_lay_is_answered_and_a_button_too(telegram: BotApiServer) -> None:
    dana = telegram.person("Dana")
    async with at_work(telegram, dana.private, webhook=True) as work:
        asked = dana.says(LAY)
        answer = await dana.private.hears("175 psi")
        dana.says("all clear")
        question = await dana.private.hears("rimary")
        press = dana.presses(question, question.buttons[0])
        await telegram.until(lambda: press.answered)
        await all_read(telegram, work)
    assert answer.reply_to is asked
    assert set(telegram.posted) == {200}
    assert telegram.polls <= 1  # the server's own, at its end
    assert telegram.refused == []


async def test_updates_that_come_twice_or_in_another_order_do_nothing_twice(telegram: BotApiServer) -> None:
    dana = telegram.person("Dana")
    async with at_work(telegram, dana.private, webhook=True) as work:
        dana.says(LAY)
        await dana.private.hears("175 psi")
        await all_read(telegram, work)
        telegram.redelivers(1)
        await telegram.until(lambda: len(telegram.posted) == 2)
        telegram.reverses_next(2)
        dana.says("two lines, 200 feet, 1.75")
        dana.says(LAY)
        await telegram.until(lambda: len(telegram.posted) >= 4)
        await all_read(telegram, work)
    assert len(dana.private.from_bot) == 3


async def test_it_is_answered_200_only_once_it_is_written_down(
    telegram: BotApiServer, monkeypatch: pytest.MonkeyPatch
) -> None:
    dana = telegram.person("Dana")
    receive, left = inbox.receive, 2

    async def full(*given: object) -> object:
        nonlocal left
        left -= 1
        if left >= 0:
            raise OperationalError("INSERT", {}, Exception("database or disk is full"))
        return await receive(*given)  # type: ignore[arg-type]

    monkeypatch.setattr(inbox, "receive", full)
    async with at_work(telegram, dana.private, webhook=True) as work:
        dana.says(LAY)
        await dana.private.hears("175 psi")
        await all_read(telegram, work)
    assert telegram.posted == [503, 503, 200]
    assert len(dana.private.from_bot) == 1


async def test_what_hasnt_the_secret_is_refused_and_what_isnt_an_update_stops_nobody(telegram: BotApiServer) -> None:
    dana = telegram.person("Dana")
    async with at_work(telegram, dana.private, webhook=True) as work, httpx.AsyncClient() as http:
        good = {"X-Telegram-Bot-Api-Secret-Token": telegram._methods.webhook_secret}
        dana.says(LAY)
        await dana.private.hears("175 psi")
        update = telegram.delivered[-1] | {"update_id": 99}
        update["message"] = update["message"] | {"message_id": 9999, "text": "mayday"}
        for headers in ({}, {"X-Telegram-Bot-Api-Secret-Token": "no"}, {"X-Telegram-Bot-Api-Secret-Token": "ü"}):
            assert (await http.post(telegram.webhook, json=update, headers=_raw(headers))).status_code == 403
        for content, status in (
            (b"{", 400),
            (b"[" * 100_000, 400),
            (b"\xff", 400),
            (b"7", 200),
            (b"x" * 2_000_000, 413),
        ):
            assert (await http.post(telegram.webhook, content=content, headers=good)).status_code == status
        assert (await http.get(telegram.webhook, headers=good)).status_code == 405
        poisoned = update | {"message": {"message_id": 7}}
        assert (await http.post(telegram.webhook, json=poisoned, headers=good)).status_code == 200
        dana.says("two lines, 200 feet, 1.75")
        await dana.private.hears("170 psi")
        await all_read(telegram, work)
    assert not any("Use the radio" in (m.text or "") for m in dana.private.from_bot)


def _raw(headers: dict[str, str]) -> dict[str, bytes]:
    return {name: value.encode() for name, value in headers.items()}


async def test_killed_again_and_again_nothing_is_lost_or_done_twice(telegram: BotApiServer, tmp_path: Path) -> None:
    dana = telegram.person("Dana")
    program = Program(telegram, tmp_path, dana.private)
    port = free_port()
    program.environment |= {
        "CROSSLAY_TELEGRAM_WEBHOOK": f"http://127.0.0.1:{port}/updates",
        "CROSSLAY_TELEGRAM_LISTEN": f"127.0.0.1:{port}",
        "CROSSLAY_TELEGRAM_SECRET": "a-secret-of-this-test-0123456789",
    }
    asked = []
    for _ in range(3):
        answers = len(telegram.posted)
        await program.start(polls=False)
        asked += [dana.says(LAY) for _ in range(6)]
        await telegram.until(lambda: len(telegram.posted) > answers + 3, timeout_s=60)  # noqa: B023
        await program.kill()
    await program.start(polls=False)
    began = time.monotonic()
    await telegram.until(lambda: {m.reply_to for m in dana.private.from_bot} >= set(asked), timeout_s=60)
    assert time.monotonic() - began < 60
    await program.end()
    replies = [m for m in dana.private.from_bot if m.reply_to]
    assert max(Counter(m.reply_to for m in replies if not (m.text or "").startswith(AGAIN)).values()) == 1
    numbers = [m.reply_to.message_id for m in replies if m.reply_to]
    assert numbers == sorted(numbers)
    assert "a-secret-of-this-test" not in program.everything_written()


@pytest.mark.parametrize("secret", ["short", "with blanks in it 0123456789", "ü" * 20])
def test_a_secret_that_the_service_wouldnt_take_is_refused(secret: str) -> None:
    with pytest.raises(SettingsError, match="CROSSLAY_TELEGRAM_SECRET"):
        load(telegram_secret=secret)
    assert Settings(telegram_secret="x" * 16).telegram_secret


async def test_a_token_that_isnt_accepted_any_more_is_said_on_the_screen(
    telegram: BotApiServer, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr("bot.rooms.telegram.webhook.LOOK_AGAIN_S", 0.01)
    monkeypatch.setattr("bot.rooms.telegram.webhook.TRY_AGAIN_S", 0.01)
    dana = telegram.person("Dana")
    async with at_work(telegram, dana.private, webhook=True) as work:
        telegram.fault("getWebhookInfo", status=401, times=2)
        await telegram.until(lambda: any("(401)" in sentence for sentence in work.said))
        dana.says(LAY)
        await dana.private.hears("175 psi")
    assert sum("(401)" in sentence for sentence in work.said) == 1
