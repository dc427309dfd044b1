"""Each fault does to the real client what it does in the field."""

import asyncio
import time
from datetime import timedelta

import pytest
from telegram import Bot
from telegram.error import BadRequest, Forbidden, NetworkError, RetryAfter, TimedOut

from tests.telegram.server import BotApiServer


async def test_a_refusal_comes_as_often_as_asked_and_does_nothing(telegram: BotApiServer, bot: Bot) -> None:
    dana = telegram.person("Dana")
    dana.says("hello")
    telegram.fault("sendMessage", status=502, times=2)
    telegram.fault("sendMessage", status=403)
    for error in (NetworkError, NetworkError, Forbidden):
        with pytest.raises(error):
            await bot.send_message(dana.id, "175 psi")
    assert dana.private.from_bot == []
    await bot.send_message(dana.id, "175 psi")
    assert len(dana.private.from_bot) == 1
    assert telegram.refused == []


async def test_a_flooded_chat_stays_refused_until_its_time(telegram: BotApiServer, bot: Bot) -> None:
    dana, lee = telegram.person("Dana"), telegram.person("Lee")
    dana.says("hello")
    lee.says("hello")
    telegram.fault("sendMessage", chat=dana.private, retry_after=60)
    with pytest.raises(RetryAfter) as parked:
        await bot.send_message(dana.id, "one")
    assert parked.value.retry_after == timedelta(seconds=60)
    assert telegram.refused == []
    with pytest.raises(RetryAfter):
        await bot.send_message(dana.id, "hasty")
    await bot.send_message(lee.id, "another room goes on")
    assert ["429" in line for line in telegram.refused] == [True]


async def test_a_dropped_connection_did_nothing_and_a_lost_answer_did_it(telegram: BotApiServer, bot: Bot) -> None:
    dana = telegram.person("Dana")
    dana.says("hello")
    telegram.fault("sendMessage", drop=True)
    telegram.fault("sendMessage", lose_answer=True)
    with pytest.raises(NetworkError) as dropped:
        await bot.send_message(dana.id, "one")
    assert not isinstance(dropped.value, BadRequest)
    assert dana.private.from_bot == []
    with pytest.raises(NetworkError):
        await bot.send_message(dana.id, "two")
    assert [m.text for m in dana.private.from_bot] == ["two"]


async def test_a_held_request_waits_for_its_release(telegram: BotApiServer, bot: Bot) -> None:
    dana = telegram.person("Dana")
    dana.says("hello")
    held = telegram.fault("sendMessage", hold=True)
    sending = asyncio.create_task(bot.send_message(dana.id, "175 psi"))
    await telegram.until(lambda: held.hits == 1)
    assert dana.private.from_bot == []
    held.release()
    assert (await sending).text == "175 psi"


async def test_a_delay_and_a_time_out(telegram: BotApiServer, bot: Bot) -> None:
    telegram.fault("getMe", delay_s=0.05)
    began = time.monotonic()
    await bot.get_me()
    assert time.monotonic() - began >= 0.05
    telegram.fault("getMe", hold=True)
    with pytest.raises(TimedOut):
        await bot.get_me(read_timeout=0.05)


async def test_updates_come_twice_or_in_the_wrong_order(telegram: BotApiServer, bot: Bot) -> None:
    dana = telegram.person("Dana")
    for text in ("one", "two"):
        dana.says(text)
    seen = [u.update_id for u in await bot.get_updates()]
    telegram.redelivers(2)
    assert [u.update_id for u in await bot.get_updates(offset=seen[-1] + 1)] == seen
    assert await bot.get_updates(offset=seen[-1] + 1) == ()
    telegram.reverses_next(2)
    dana.says("three")
    assert await bot.get_updates() == ()
    dana.says("four")
    assert [u.message and u.message.text for u in await bot.get_updates()] == ["four", "three"]


async def test_a_download_breaks_off_or_fails(telegram: BotApiServer, bot: Bot) -> None:
    dana = telegram.person("Dana")
    dana.sends_voice(b"x" * 100_000)
    (update,) = await bot.get_updates()
    assert update.message
    assert update.message.voice
    file = await update.message.voice.get_file()
    for fault in ({"lose_answer": True}, {"drop": True}, {"status": 500}):
        telegram.fault("file", **fault)
        with pytest.raises(NetworkError):
            await file.download_as_bytearray()
    assert len(await file.download_as_bytearray()) == 100_000


async def test_a_fault_names_a_published_method(telegram: BotApiServer) -> None:
    with pytest.raises(ValueError, match="sendSmoke is no method"):
        telegram.fault("sendSmoke")
