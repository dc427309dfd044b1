"""Updates spoilt in any way, put among good ones: every good one is answered, whatever stands beside it."""

from __future__ import annotations

import copy
import random
from typing import TYPE_CHECKING, Any

from tests.bot.rooms.at_work import at_work
from tests.telegram.server import BotApiServer

if TYPE_CHECKING:
    from tests.faults.fuzz import Law

A_BATCH = 20
SEED = 77
_ODD: tuple[Any, ...] = (
    None, True, -1, 0, 2**63, -(2**63), 10**30, 1e308, "", "x" * 5000, "\ud800", "two lines \udfff", "➊", "-1:00",
    "\u202e\u0000", [], [[[]]], {}, {"id": {}}, "q1:99999999999999999999", "role:", "/start", "/start \ud83d", "/",
    "/@", "/link x", "@crosslay_test_bot", "mayday \ud800",
)  # fmt: skip


async def updates(budget: int) -> Law:
    """So many spoilt ones, a good one after every twenty."""
    from tests.faults.fuzz import POISON, Law

    law, chance = Law("updates"), random.Random(SEED)
    async with BotApiServer() as telegram:
        dana, *others = [telegram.person(f"P{number}") for number in range(21)]
        crew = telegram.group("Engine 12", dana, *others)
        poison = list(POISON)
        async with at_work(telegram, dana.private, *(p.private for p in others), crew, crew_room=crew):
            while law.tried < budget:
                batch = [_spoilt(_good(telegram, chance, dana.id, crew.id), chance) for _ in range(A_BATCH)]
                poisoned = [
                    _good(telegram, chance, dana.id, crew.id, poison.pop()) for _ in range(min(10, len(poison)))
                ]
                batch = poisoned + batch[len(poisoned) :]
                law.tried += len(batch)
                telegram.updates += batch
                lee = chance.choice(others)  # nobody so often that it would be held back as a flood
                asked = lee.says("two lines, 200 feet, 1.75")
                try:
                    await telegram.until(
                        lambda: any(m.reply_to is asked for m in lee.private.from_bot),  # noqa: B023
                        timeout_s=20,
                    )
                except AssertionError:
                    law.wrong("the rooms stand still", ascii(telegram.updates[:3]))
                    break
    return law


def _good(telegram: BotApiServer, chance: random.Random, person: int, group: int, poison: str = "") -> dict[str, Any]:
    """A whole update of one of the kinds that are asked for, or a message of a poisoned text."""
    user = {"id": person, "is_bot": False, "first_name": "Dana"}
    chat = chance.choice([{"id": person, "type": "private"}, {"id": group, "type": "group", "title": "Engine 12"}])
    message: dict[str, Any] = {
        "message_id": telegram.next_id("messages"), "date": telegram.now(), "chat": chat, "from": user,
        "text": poison or chance.choice(["tank time at 150 gpm", "/start", "/status", "mayday", "on scene"]),
        "entities": [{"type": "bot_command", "offset": 0, "length": 6}],
    }  # fmt: skip
    kinds: dict[str, Any] = {
        "message": message,
        "edited_message": message | {"edit_date": telegram.now()},
        "callback_query": {
            "id": str(telegram.next_id("press")), "from": user, "message": message, "chat_instance": "1",
            "data": chance.choice(["q1:0", "role:driver", "q1:1", "x"]),
        },
        "my_chat_member": {
            "chat": chat, "from": user, "date": telegram.now(),
            "old_chat_member": telegram.member_json("left"), "new_chat_member": telegram.member_json("member"),
        },
    }  # fmt: skip
    kind = "message" if poison else chance.choice(list(kinds))
    return {"update_id": telegram.next_id("update"), kind: copy.deepcopy(kinds[kind])}


def _spoilt(update: dict[str, Any], chance: random.Random) -> dict[str, Any]:
    """One to three values anywhere in it replaced, taken away or put under another name; its number stays."""
    for _ in range(chance.randrange(1, 4)):
        at: Any = update
        while True:
            keys = [key for key in at if key != "update_id"] if isinstance(at, dict) else list(range(len(at)))
            if not keys:
                break
            key = chance.choice(keys)
            if isinstance(at[key], dict | list) and at[key] and chance.random() < 0.85:
                at = at[key]
                continue
            match chance.randrange(4):
                case 0 if isinstance(at, dict):
                    del at[key]
                case 1 if isinstance(at, dict):
                    at[f"{key}_x"] = at.pop(key)
                case _:
                    at[key] = copy.deepcopy(chance.choice(_ODD))
            break
    return update
