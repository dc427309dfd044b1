"""What people do in a chat becomes a message: read from real updates of the test server."""

from datetime import UTC, datetime

import pytest
from telegram import Bot, InlineKeyboardButton, InlineKeyboardMarkup

from bot.message import Message
from bot.rooms.telegram.incoming import message_of
from bot.rooms.telegram.menu import own_command
from tests.telegram.server import BotApiServer


async def read(bot: Bot) -> list[Message]:
    me = await bot.get_me()
    updates = await bot.get_updates()
    return [message for update in updates if (message := message_of(update, me))]


async def test_text_in_private(telegram: BotApiServer, bot: Bot) -> None:
    dana = telegram.person("Dana")
    said = dana.says("two lines, 200 feet, 1.75")
    assert await read(bot) == [
        Message(
            room=f"telegram:{dana.id}",
            id=str(said.message_id),
            who=f"telegram:{dana.id}",
            name="Dana",
            at=datetime.fromtimestamp(said.date, UTC),
            text="two lines, 200 feet, 1.75",
            title="Dana",
            addressed=True,
        )
    ]


async def test_in_a_group_a_mention_a_reply_and_a_command_address_the_bot(telegram: BotApiServer, bot: Bot) -> None:
    dana = telegram.person("Dana")
    crew = telegram.group("Engine 12", dana)
    dana.says("anyone seen the halligan", crew)
    dana.says("@crosslay_test_bot tank time", crew)
    answer = await bot.send_message(crew.id, "1:40")
    dana.says("and with two lines?", crew, reply_to=crew.from_bot[0])
    dana.says("/tank", crew)
    heard = await read(bot)
    assert [(m.text, m.addressed, m.reply_to) for m in heard] == [
        ("anyone seen the halligan", False, ""),
        ("tank time", True, ""),
        ("and with two lines?", True, str(answer.message_id)),
        ("tank time", True, ""),
    ]
    assert {(m.group, m.title) for m in heard} == {(True, "Engine 12")}


@pytest.mark.parametrize(
    ("typed", "says"),
    [
        ("/tank", "tank time"),
        ("/pump two lines, 200 feet, 1.75", "two lines, 200 feet, 1.75"),
        ("/pump@crosslay_test_bot crosslay 1", "crosslay 1"),
        ("/pump", "help"),
        ("/par", "PAR"),
        ("/crosslay_1 charged", "crosslay 1 charged"),
    ],
)
async def test_what_a_command_says(telegram: BotApiServer, bot: Bot, typed: str, says: str) -> None:
    telegram.person("Dana").says(typed)
    assert [m.text for m in await read(bot)] == [says]


async def test_commands_of_other_bots_say_nothing_and_those_of_the_room_stay(telegram: BotApiServer, bot: Bot) -> None:
    dana = telegram.person("Dana")
    crew = telegram.group("Engine 12", dana)
    dana.says("/status@another_bot", crew)
    for text in ("/start@crosslay_test_bot k7", "/role", "/link engine 9"):
        dana.says(text, crew)
    heard = [m.text for m in await read(bot)]
    assert heard == ["/start k7", "/role", "/link engine 9"]
    assert [own_command(text) for text in heard] == [("start", "k7"), ("role", ""), ("link", "engine 9")]
    assert own_command("two lines") is None


async def test_topics_are_kept_and_their_first_message_is_no_reply(telegram: BotApiServer, bot: Bot) -> None:
    dana = telegram.person("Dana")
    pump = telegram.supergroup("Alder Bay", dana, forum=True).topic("Pump")
    plain = telegram.supergroup("Plain", dana)
    dana.says("two lines", pump)
    dana.says("and 250 feet?", plain, reply_to=dana.says("two lines", plain))
    in_topic, _, in_plain = await read(bot)
    assert (in_topic.thread, in_topic.reply_to) == (str(pump.thread_id), "")
    assert (in_plain.thread, in_plain.reply_to) == ("", str(plain.messages[0].message_id))


async def test_recordings_of_every_kind(telegram: BotApiServer, bot: Bot) -> None:
    dana = telegram.person("Dana")
    dana.sends_voice(b"OggS")
    dana.sends_audio(b"ftyp", caption="size-up")
    dana.sends_audio(b"RIFF", mime_type="audio/wav", as_document=True)
    dana.sends_audio(b"%PDF", mime_type="application/pdf", as_document=True)
    heard = await read(bot)
    assert [m.text for m in heard] == ["", "", ""]
    assert [telegram.files[m.voice_ref].content for m in heard] == [b"OggS", b"ftyp", b"RIFF"]


async def test_pressed_buttons(telegram: BotApiServer, bot: Bot) -> None:
    dana = telegram.person("Dana")
    crew = telegram.group("Engine 12", dana)
    labels = InlineKeyboardMarkup(
        [
            [InlineKeyboardButton("Primary", callback_data="q7:0")],
            [InlineKeyboardButton("Driver", callback_data="role:driver")],
        ]
    )
    asked = await bot.send_message(crew.id, "Which search?", reply_markup=labels)
    dana.presses(crew.from_bot[0], "Primary")
    dana.presses(crew.from_bot[0], "Primary")
    dana.presses(crew.from_bot[0], "Driver")
    first, again, role = await read(bot)
    assert (first.button, first.text, first.reply_to) == ("q7:0", "", str(asked.message_id))
    assert first.id != again.id
    assert (role.button, role.text, role.who) == ("", "I'm the driver", f"telegram:{dana.id}")


async def test_what_is_no_message(telegram: BotApiServer, bot: Bot) -> None:
    dana = telegram.person("Dana")
    crew = telegram.group("Engine 12", dana, with_bot=False)
    telegram.set_bot(crew, "member", by=dana)
    telegram.becomes_supergroup(crew)
    assert await read(bot) == []
