"""The client: recordings within bounds, no update lost by the polling loop, no token in a log."""

import asyncio
import logging
from collections.abc import AsyncIterator, Iterator, Sequence
from datetime import UTC, datetime, timedelta

import httpx
import pytest
import pytest_asyncio
from telegram import Bot, Update

from bot.clock import ServiceClock, SimulatedClock
from bot.errors import FileProblem
from bot.rooms.telegram import downloads
from bot.rooms.telegram.client import open_bot
from bot.rooms.telegram.polling import poll
from tests.telegram.server import BotApiServer


@pytest_asyncio.fixture
async def http() -> AsyncIterator[httpx.AsyncClient]:
    async with httpx.AsyncClient() as client:
        yield client


@pytest.fixture(autouse=True)
def _log_factory() -> Iterator[None]:
    before = logging.getLogRecordFactory()
    yield
    logging.setLogRecordFactory(before)


# Recordings


async def sent_voice(telegram: BotApiServer, bot: Bot, content: bytes) -> str:
    telegram.person("Dana").sends_voice(content)
    message = (await bot.get_updates())[-1].message
    assert message
    assert message.voice
    return message.voice.file_id


async def test_a_recording_is_fetched_in_spite_of_a_bad_line(
    telegram: BotApiServer, bot: Bot, http: httpx.AsyncClient, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr(downloads, "_PAUSE_S", 0)
    file_id = await sent_voice(telegram, bot, b"x" * 50_000)
    telegram.fault("getFile", drop=True)
    telegram.fault("file", lose_answer=True)
    assert await downloads.fetch(bot, http, file_id) == b"x" * 50_000


async def test_a_recording_that_cannot_be_had_says_why(
    telegram: BotApiServer, bot: Bot, http: httpx.AsyncClient, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr(downloads, "_PAUSE_S", 0)
    with pytest.raises(FileProblem, match="no longer there"):
        await downloads.fetch(bot, http, "nothing")
    too_big = await sent_voice(telegram, bot, bytes(downloads.LARGEST_BYTES + 1))
    with pytest.raises(FileProblem, match="too big"):
        await downloads.fetch(bot, http, too_big)
    gone = await sent_voice(telegram, bot, b"x")
    telegram.fault("file", status=500, times=3)
    with pytest.raises(FileProblem, match="connection failed; send a short voice message, or type it"):
        await downloads.fetch(bot, http, gone)


async def test_a_server_without_limits_is_held_to_them(
    telegram: BotApiServer, bot: Bot, http: httpx.AsyncClient, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr(downloads, "LARGEST_BYTES", 10_000)
    file_id = await sent_voice(telegram, bot, b"x" * 10_001)
    with pytest.raises(FileProblem, match="too big"):
        await downloads.fetch(bot, http, file_id)
    monkeypatch.setattr(telegram.files[file_id].__class__, "as_json", lambda file: {
        "file_id": file.file_id, "file_unique_id": file.unique_id, "file_path": file.path
    })  # fmt: skip
    with pytest.raises(FileProblem, match="too big"):
        await downloads.fetch(bot, http, file_id)


# Polling


class Notebook:
    """Takes batches as the room would, after so many failures."""

    def __init__(self, failures: int = 0) -> None:
        self.seen: list[str] = []
        self.failures = failures
        self.news = asyncio.Event()

    async def take(self, batch: Sequence[Update]) -> None:
        if self.failures:
            self.failures -= 1
            raise OSError("the disk is full")
        self.seen += [u.message.text for u in batch if u.message and u.message.text]
        self.news.set()

    async def until(self, count: int) -> None:
        async with asyncio.timeout(10):
            while len(self.seen) < count:
                self.news.clear()
                await self.news.wait()


async def test_what_could_not_be_written_down_is_fetched_again(
    telegram: BotApiServer, bot: Bot, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr("bot.rooms.telegram.polling.FIRST_PAUSE_S", 0.001)
    dana, notebook = telegram.person("Dana"), Notebook(failures=2)
    dana.says("two lines")
    polling = asyncio.create_task(poll(bot, notebook.take))
    await notebook.until(1)
    dana.says("three lines")
    await notebook.until(2)
    await telegram.until(lambda: telegram.confirmed)
    polling.cancel()
    assert notebook.seen == ["two lines", "three lines"]
    assert notebook.failures == 0


async def test_the_loop_outlives_a_bad_network_and_a_webhook(
    telegram: BotApiServer, bot: Bot, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr("bot.rooms.telegram.polling.FIRST_PAUSE_S", 0.001)
    monkeypatch.setattr("bot.rooms.telegram.polling.LONGEST_PAUSE_S", 0.006)
    dana, notebook = telegram.person("Dana"), Notebook()
    telegram.fault("getUpdates", drop=True)
    telegram.fault("getUpdates", status=502, times=3)
    telegram.fault("getUpdates", lose_answer=True)
    telegram.fault("getUpdates", status=409)
    polling = asyncio.create_task(poll(bot, notebook.take))
    dana.says("two lines")
    await notebook.until(1)
    polling.cancel()
    assert notebook.seen == ["two lines"]
    assert all(fault.hits == fault.times for fault in telegram.faults)


async def test_an_update_that_cannot_be_read_holds_nobody_up(telegram: BotApiServer, bot: Bot) -> None:
    dana, notebook = telegram.person("Dana"), Notebook()
    dana.says("before")
    telegram.updates.append({"update_id": telegram.next_id("update"), "message": {"message_id": 7}})
    dana.says("after")
    polling = asyncio.create_task(poll(bot, notebook.take))
    await notebook.until(2)
    dana.says("later")
    await notebook.until(3)
    await telegram.until(lambda: telegram.confirmed)
    polling.cancel()
    assert notebook.seen == ["before", "after", "later"]


@pytest.mark.parametrize(("status", "says"), [(401, "doesn't accept this token any more"), (409, "Another program")])
async def test_what_only_people_can_put_right_is_said_once_and_waited_out(
    telegram: BotApiServer, bot: Bot, monkeypatch: pytest.MonkeyPatch, status: int, says: str
) -> None:
    monkeypatch.setattr("bot.rooms.telegram.polling.CONFLICT_PAUSE_S", 0.001)
    dana, notebook = telegram.person("Dana"), Notebook()
    said: list[str] = []
    telegram.fault("getUpdates", status=status, times=3)
    polling = asyncio.create_task(poll(bot, notebook.take, said.append))
    dana.says("two lines")
    await notebook.until(1)
    await telegram.until(lambda: telegram.confirmed)
    polling.cancel()
    assert len(said) == 2
    assert says in said[0]
    assert said[1] == "Telegram is heard again."


async def test_the_clock_learns_the_services_time(telegram: BotApiServer) -> None:
    machine = SimulatedClock(datetime.now(UTC) - timedelta(hours=1))
    clock = ServiceClock(machine)
    async with open_bot(telegram.token, telegram.api, clock) as bot:
        await bot.get_me()
    assert abs(clock.offset - timedelta(hours=1)) < timedelta(seconds=60)


# The token in logs


async def test_the_token_is_in_no_log(telegram: BotApiServer, caplog: pytest.LogCaptureFixture) -> None:
    caplog.set_level(logging.DEBUG)
    async with open_bot(telegram.token, telegram.api) as bot:
        await bot.get_me()
        log = logging.getLogger("anything")
        log.warning("asked %s", f"{telegram.api}/bot{telegram.token}/getMe")
        log.warning("a mapping of %(bot)s", {"bot": bot})
        try:
            raise ValueError(f"bad address {telegram.api}/bot{telegram.token}/getMe")
        except ValueError:
            log.exception("it failed")
    assert "asked http://127.0.0.1" in caplog.text
    assert "bad address" in caplog.text
    assert telegram.token not in caplog.text
    assert not [record for record in caplog.records if record.name.startswith("httpx")]
