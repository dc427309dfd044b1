"""Messages go out as people should see them, and every way of failing is told as the outbox needs it."""

import asyncio

import pytest
from telegram import Bot
from telegram.error import ChatMigrated

from bot.errors import RetryAfter, Undeliverable, Unsure
from bot.message import Attachment, Button, Outgoing
from bot.rooms.telegram.client import open_bot
from bot.rooms.telegram.sending import keyboard, send, split
from tests.telegram.server import BotApiServer


def reply(text: str, **given: object) -> Outgoing:
    return Outgoing(id=1, room="telegram:1", kind="reply", text=text, **given)  # type: ignore[arg-type]


async def test_the_lead_is_bold_and_the_reply_is_quiet(telegram: BotApiServer, bot: Bot) -> None:
    dana = telegram.person("Dana")
    asked = dana.says("two lines")
    sent_id = await send(
        bot, dana.id, reply("175 psi · 1¾ in\n100 nozzle + 70 friction", reply_to=str(asked.message_id))
    )
    (shown,) = dana.private.from_bot
    assert (str(shown.message_id), shown.reply_to, shown.silent) == (sent_id, asked, True)
    assert shown.entities == [{"type": "bold", "offset": 0, "length": 15}]


async def test_only_an_alert_makes_a_sound(telegram: BotApiServer, bot: Bot) -> None:
    dana = telegram.person("Dana")
    dana.says("hello")
    for kind in ("reply", "reminder", "notice", "alert"):
        await send(bot, dana.id, Outgoing(id=1, room="", kind=kind, text=kind))
    assert [m.text for m in dana.private.from_bot if not m.silent] == ["alert"]


async def test_the_message_answered_may_be_gone_and_may_be_a_button(telegram: BotApiServer, bot: Bot) -> None:
    dana = telegram.person("Dana")
    dana.says("hello")
    asked = await bot.send_message(dana.id, "Which search?")
    await send(bot, dana.id, reply("gone", reply_to="999"))
    await send(bot, dana.id, reply("pressed", reply_to=f"{asked.message_id}/press-7"))
    assert [m.reply_to and m.reply_to.text for m in dana.private.from_bot[1:]] == [None, "Which search?"]


async def test_a_topic_is_kept_and_left_when_it_is_closed(telegram: BotApiServer, bot: Bot) -> None:
    house = telegram.supergroup("Alder Bay", telegram.person("Dana"), forum=True)
    pump = house.topic("Pump")
    await send(bot, house.id, reply("in the topic", thread=str(pump.thread_id)))
    pump.open = False
    await send(bot, house.id, reply("in the chat", thread=str(pump.thread_id)))
    house.topics.clear()
    await send(bot, house.id, reply("in the chat too", thread=str(pump.thread_id)))
    assert [m.topic for m in house.from_bot] == [pump, None, None]


async def test_a_long_text_takes_several_messages_and_loses_nothing(telegram: BotApiServer, bot: Bot) -> None:
    dana = telegram.person("Dana")
    dana.says("hello")
    lines = [f"line {number}: {'x' * 90}" for number in range(100)]
    await send(bot, dana.id, reply("\n".join(lines), buttons=(Button("q1:0", "Yes"),)))
    assert "\n".join(m.text or "" for m in dana.private.from_bot) == "\n".join(lines)
    assert [m.buttons for m in dana.private.from_bot] == [[], [], ["Yes"]]


async def test_pictures_files_and_spoken_words_come_with_the_text(telegram: BotApiServer, bot: Bot) -> None:
    dana = telegram.person("Dana")
    asked = dana.says("hello")
    picture, report, spoken = (
        Attachment("profile.png", b"PNG", "image"),
        Attachment("incident.pdf", b"PDF", "file"),
        Attachment("spoken.ogg", b"OggS", "voice"),
    )
    answering = {"reply_to": str(asked.message_id), "buttons": (Button("q1:0", "Yes"),)}
    await send(bot, dana.id, reply("175 psi\nshown", attachments=(picture, spoken), **answering))
    await send(bot, dana.id, reply("x" * 1025, attachments=(report,), **answering))
    profile, voice, text, file = dana.private.from_bot
    assert [list(m.content) for m in (profile, voice, text, file)] == [
        ["photo", "caption"],
        ["voice"],
        [],
        ["document"],
    ]
    assert (profile.caption, profile.entities[0]["length"]) == ("175 psi\nshown", 7)
    assert [m.reply_to for m in (profile, voice, text, file)] == [asked, None, asked, None]
    assert [m.buttons for m in (profile, voice, text, file)] == [["Yes"], [], ["Yes"], []]
    assert [telegram.files[m.content["voice"]["file_id"]].content for m in (voice,)] == [b"OggS"]
    assert telegram.refused == []


async def test_where_what_is_attached_is_refused_the_text_comes_alone(telegram: BotApiServer, bot: Bot) -> None:
    dana = telegram.person("Dana")
    dana.says("hello")
    telegram.fault("sendVoice", status=400)
    await send(bot, dana.id, reply("175 psi", attachments=(Attachment("spoken.ogg", b"OggS", "voice"),)))
    assert [m.text for m in dana.private.from_bot] == ["175 psi"]


async def test_a_chat_that_refuses_without_its_topic_too_is_told_apart(telegram: BotApiServer, bot: Bot) -> None:
    house = telegram.supergroup("Alder Bay", telegram.person("Dana"), forum=True)
    telegram.fault("sendMessage", status=400)
    with pytest.raises(Undeliverable):
        await send(bot, house.id, reply("x", thread="77"))
    telegram.fault("sendMessage", drop=True, times=2)
    with pytest.raises(Unsure):
        await send(bot, house.id, reply("x", thread="77"))


def test_splitting_a_text_without_line_ends() -> None:
    assert [len(part) for part in split("x" * 9000)] == [4096, 4096, 808]


def test_buttons_are_wide_enough_for_a_glove() -> None:
    labels = ("Yes", "No", "Primary", "Later", "Crosslay 1 is shut down", "None")
    shown = keyboard(tuple(Button(f"q1:{place}", label) for place, label in enumerate(labels)))
    assert shown is not None
    assert [[b.text for b in row] for row in shown.inline_keyboard] == [
        ["Yes", "No", "Primary"],
        ["Later"],
        ["Crosslay 1 is shut down"],
        ["None"],
    ]


async def test_fates(telegram: BotApiServer, bot: Bot) -> None:
    dana = telegram.person("Dana")
    dana.says("hello")
    telegram.fault("sendMessage", retry_after=3)
    with pytest.raises(RetryAfter) as parked:
        await send(bot, dana.id, reply("x"))
    assert parked.value.seconds == 3
    for fault, kind in (
        ({"status": 400}, Undeliverable),
        ({"status": 403}, Undeliverable),
        ({"status": 401}, RetryAfter),
        ({"status": 500}, Unsure),
        ({"status": 502}, Unsure),
        ({"drop": True}, Unsure),
        ({"lose_answer": True}, Unsure),
    ):
        lee = telegram.person("Lee")
        lee.says("hello")
        telegram.fault("sendMessage", chat=lee.private, **fault)
        with pytest.raises(kind):
            await send(bot, lee.id, reply("x"))
    crew = telegram.group("Engine 12", dana)
    new = telegram.becomes_supergroup(crew)
    with pytest.raises(ChatMigrated) as moved:
        await send(bot, crew.id, reply("x"))
    assert moved.value.new_chat_id == new.id


async def test_no_connection_means_not_sent(telegram: BotApiServer) -> None:
    unused = await asyncio.start_server(lambda reader, writer: None, "127.0.0.1", 0)
    port = unused.sockets[0].getsockname()[1]
    unused.close()
    await unused.wait_closed()
    with pytest.raises(RetryAfter):
        await send(open_bot(telegram.token, f"http://127.0.0.1:{port}"), 1, reply("x"))
