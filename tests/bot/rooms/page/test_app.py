"""What is answered over HTTP, to whom, and what isn't: without a browser, on the application itself."""

from __future__ import annotations

import json
import re
from collections.abc import AsyncIterator
from pathlib import Path

import httpx
import pytest

from bot import rigs
from bot.clock import LocalClock
from bot.program.station import Station
from bot.rooms.page.address import Address
from bot.rooms.page.app import Answers
from bot.rooms.page.boards import Boards
from bot.rooms.page.door import Door
from bot.rooms.page.hub import Hub
from bot.rooms.page.passes import Pass, Passes
from bot.rooms.page.room import PageRoom
from bot.rooms.page.session import Desk
from bot.rooms.throttle import Throttle
from bot.settings import Settings

AT = Address("192.168.4.1", 8443)
ORIGIN = "https://192.168.4.1:8443"
STATIC = Path(__file__).parents[4] / "bot" / "rooms" / "page" / "static"


@pytest.fixture
async def door(url: str) -> AsyncIterator[tuple[Door, httpx.AsyncClient]]:
    clock, hub = LocalClock(), Hub()
    room = PageRoom(hub, clock)
    station = await Station.open(Settings(database=url, timezone="UTC"), rigs.load(), [room], clock=clock)
    desk = Desk(station, hub, room, Door(station), Boards(station, hub, room), Throttle(), AT, None)

    async def joined(_one: Pass, _code: str) -> None:
        return None

    app = Answers(desk, Passes(b"k" * 32), b"authority", joined).app()
    transport = httpx.ASGITransport(app, client=("192.168.4.20", 5000))
    async with httpx.AsyncClient(transport=transport, base_url=ORIGIN) as client:
        yield desk.door, client
    await station.pipeline.stop()
    await station.store.close()


Client = tuple[Door, httpx.AsyncClient]


async def test_a_pass_is_a_cookie_that_no_script_reads_and_no_other_page_sends(door: Client) -> None:
    keeper, client = door
    code = (await keeper.house_code("test")).code
    answer = await client.post("/look", json={"code": code}, headers={"origin": ORIGIN})
    assert answer.json() == {"units": [{"unit": "engine 12", "name": "Engine 12"}], "guest": False}
    body = {"code": code, "name": "Kim", "role": "officer"}
    answer = await client.post("/join", json=body, headers={"origin": ORIGIN})
    cookie = answer.headers["set-cookie"]
    assert cookie.startswith("__Host-crosslay=")
    assert {"HttpOnly", "Secure", "Path=/"} <= {part.strip() for part in cookie.split(";")}
    assert "samesite=strict" in cookie.casefold()
    headers = {"cookie": cookie.partition(";")[0]}
    assert (await client.get("/me", headers=headers)).json() == {"in": True}
    assert (await client.get("/replays", headers=headers)).json() == []
    assert [one.role for one in await keeper.members()] == ["officer"]
    await client.post("/leave", headers={**headers, "origin": ORIGIN})
    assert (await client.get("/me", headers=headers)).json() == {"in": False}


async def test_nothing_is_told_to_who_has_no_pass(door: Client) -> None:
    _keeper, client = door
    assert (await client.get("/me")).json() == {"in": False}
    for path in ("/replays", "/replay/last", "/spoken/1", "/file/1"):
        assert (await client.get(path, headers={"cookie": "__Host-crosslay=forged.forged"})).status_code == 401, path
    for path in ("/docs", "/static/page.js", "/../passes.key", "/record.sqlite"):
        assert (await client.get(path)).status_code == 404, path


@pytest.mark.parametrize("host", ["evil.example", "192.168.4.1", "localhost:8443", ""])
async def test_another_host_is_not_answered(door: Client, host: str) -> None:
    assert (await door[1].get("/", headers={"host": host})).status_code == 421


@pytest.mark.parametrize("origin", [None, "https://evil.example", "null", "http://192.168.4.1:8443"])
async def test_what_comes_from_another_page_changes_nothing(door: Client, origin: str | None) -> None:
    keeper, client = door
    code = (await keeper.house_code("test")).code
    headers = {} if origin is None else {"origin": origin}
    answer = await client.post("/join", json={"code": code, "name": "Kim"}, headers=headers)
    assert answer.status_code == 403
    assert not await keeper.used(code)


async def test_every_answer_names_what_a_browser_may_do(door: Client) -> None:
    for path in ("/", "/page.js", "/me", "/nowhere"):
        headers = (await door[1].get(path)).headers
        policy = headers["content-security-policy"]
        assert "default-src 'none'" in policy
        assert "script-src 'self';" in policy
        assert "unsafe" not in policy
        assert "frame-ancestors 'none'" in policy
        assert headers["x-content-type-options"] == "nosniff"
        assert headers["cache-control"] == "no-store"


async def test_the_page_holds_no_inline_script_and_asks_for_nothing_elsewhere(door: Client) -> None:
    page = (await door[1].get("/")).text
    assert not re.search(r"<script(?![^>]*src=)|\son\w+=|style=", page)
    for file in STATIC.iterdir():
        found = re.findall(r"(?:https?:)?//[\w.-]+\.\w+", re.sub(r"xmlns=\S+", "", file.read_text("utf-8")))
        assert not found, (file.name, found)


async def test_all_of_the_page_is_light(door: Client) -> None:
    assert sum(len(file.read_bytes()) for file in STATIC.iterdir()) <= 150_000


async def test_too_much_is_refused(door: Client) -> None:
    _keeper, client = door
    headers = {"origin": ORIGIN}
    assert (await client.post("/join", content=b"x" * 10_000, headers=headers)).status_code == 413
    assert (await client.post("/join", content=b"{", headers=headers)).status_code == 400
    assert (await client.post("/join", json={"code": "1" * 99}, headers=headers)).status_code == 400
    statuses = [(await client.post("/look", json={"code": "12345678"}, headers=headers)).status_code for _ in range(25)]
    assert statuses[0] == 403
    assert statuses[-1] == 429
    why = (await client.post("/look", json={"code": "12345678"}, headers=headers)).json()["why"]
    assert json.dumps(why)
