"""People, chats and updates behave as the service tells a bot of them: shown with the real client over HTTP."""

import asyncio
from datetime import timedelta

import pytest
from telegram import Bot, InlineKeyboardButton, InlineKeyboardMarkup, Update
from telegram.error import BadRequest, ChatMigrated

from tests.telegram.server import BotApiServer


async def texts(bot: Bot, offset: int = 0) -> list[str | None]:
    return [u.effective_message.text if u.effective_message else None for u in await bot.get_updates(offset=offset)]


async def test_updates_stay_until_the_offset_rises(telegram: BotApiServer, bot: Bot) -> None:
    dana, lee = telegram.person("Dana"), telegram.person("Lee")
    crew = telegram.group("Engine 12", dana, lee)
    dana.says("one")
    lee.says("two", crew)
    first = await bot.get_updates()
    assert [(u.effective_chat and u.effective_chat.id, u.message and u.message.text) for u in first] == [
        (dana.id, "one"),
        (crew.id, "two"),
    ]
    assert await texts(bot) == ["one", "two"]
    assert await texts(bot, first[1].update_id) == ["two"]
    assert not telegram.confirmed
    assert await texts(bot, first[1].update_id + 1) == []
    assert telegram.confirmed


async def test_a_long_poll_answers_at_the_next_message(telegram: BotApiServer, bot: Bot) -> None:
    dana = telegram.person("Dana")
    poll = asyncio.create_task(bot.get_updates(timeout=30))
    await telegram.until(lambda: telegram.polls == 1)
    dana.says("lines charged")
    assert [u.message and u.message.text for u in await poll] == ["lines charged"]


async def test_only_the_kinds_asked_for_are_delivered(telegram: BotApiServer, bot: Bot) -> None:
    dana = telegram.person("Dana")
    await bot.get_updates(allowed_updates=[Update.MESSAGE])
    said = dana.says("one")
    dana.edits(said, "won")
    assert [u.message is not None for u in await bot.get_updates()] == [True]
    await bot.get_updates(allowed_updates=[])
    dana.edits(said, "one")
    assert [u.edited_message is not None for u in await bot.get_updates()] == [False, True]


async def test_pressing_a_button(telegram: BotApiServer, bot: Bot) -> None:
    dana = telegram.person("Dana")
    crew = telegram.group("Engine 12", dana)
    row = [InlineKeyboardButton(label, callback_data=label[0]) for label in ("Primary", "Secondary")]
    await bot.send_message(crew.id, "Which search?", reply_markup=InlineKeyboardMarkup([row]))
    press = dana.presses(crew.from_bot[0], "Secondary")
    (update,) = await bot.get_updates()
    assert update.callback_query is not None
    assert (update.callback_query.data, update.callback_query.from_user.id) == ("S", dana.id)
    assert not press.answered
    await update.callback_query.answer("Secondary search")
    assert (press.answered, press.answer) == (True, "Secondary search")
    with pytest.raises(AssertionError, match="no button 'Both'"):
        dana.presses(crew.from_bot[0], "Both")


async def test_privacy_mode_hides_what_is_not_meant_for_the_bot(telegram: BotApiServer, bot: Bot) -> None:
    dana = telegram.person("Dana")
    crew = telegram.group("Engine 12", dana)
    telegram.privacy = True
    assert not (await bot.get_me()).can_read_all_group_messages
    dana.says("two lines, 200 feet", crew)
    dana.says("/status", crew)  # before the bot wrote anything there
    dana.says("/status@another_bot", crew)
    dana.says("/status@crosslay_test_bot", crew)
    await bot.send_message(crew.id, "175 psi")
    dana.says("say again", crew, reply_to=crew.from_bot[0])
    dana.says("/par", crew)
    dana.says("in private")
    assert await texts(bot) == ["/status@crosslay_test_bot", "say again", "/par", "in private"]
    telegram.set_bot(crew, "administrator", by=dana)
    dana.says("an administrator hears it", crew)
    assert (await texts(bot))[-1] == "an administrator hears it"


async def test_topics_are_told_and_kept(telegram: BotApiServer, bot: Bot) -> None:
    dana = telegram.person("Dana")
    house = telegram.supergroup("Alder Bay", dana, forum=True)
    pump = house.topic("Pump")
    dana.says("two lines", pump)
    update = (await bot.get_updates())[-1]
    assert update.message is not None
    assert (update.message.is_topic_message, update.message.message_thread_id) == (True, pump.thread_id)
    await update.message.reply_text("175 psi")
    assert house.from_bot[0].topic is pump
    pump.open = False
    with pytest.raises(BadRequest, match=r"(?i)topic_closed"):
        await bot.send_message(house.id, "x", message_thread_id=pump.thread_id)


async def test_the_thread_of_a_reply_in_a_plain_supergroup_is_no_topic(telegram: BotApiServer, bot: Bot) -> None:
    dana = telegram.person("Dana")
    plain = telegram.supergroup("Alder Bay", dana)
    dana.says("and from the hydrant?", plain, reply_to=dana.says("two lines", plain))
    message = (await bot.get_updates())[-1].message
    assert message is not None
    assert message.message_thread_id is not None
    assert not message.is_topic_message
    with pytest.raises(BadRequest, match="thread not found"):
        await bot.send_message(plain.id, "175 psi", message_thread_id=message.message_thread_id)


async def test_a_group_turned_supergroup_has_a_new_id(telegram: BotApiServer, bot: Bot) -> None:
    dana = telegram.person("Dana")
    crew = telegram.group("Engine 12", dana)
    new = telegram.becomes_supergroup(crew)
    told = [u.message for u in await bot.get_updates()]
    assert [(m.chat.id, m.migrate_to_chat_id, m.migrate_from_chat_id) for m in told if m] == [
        (crew.id, new.id, None),
        (new.id, None, crew.id),
    ]
    with pytest.raises(ChatMigrated) as moved:
        await bot.send_message(crew.id, "175 psi")
    assert moved.value.new_chat_id == new.id
    await bot.send_message(new.id, "175 psi")


async def test_following_join_links(telegram: BotApiServer, bot: Bot) -> None:
    dana = telegram.person("Dana")
    crew = telegram.group("Engine 12", dana, with_bot=False)
    dana.follows(f"https://t.me/{telegram.bot.username}?start=k7")
    dana.follows(f"https://t.me/{telegram.bot.username}?startgroup=k8", crew)
    updates = await bot.get_updates()
    assert [u.message.text for u in updates if u.message and u.message.text] == [
        "/start k7",
        "/start@crosslay_test_bot k8",
    ]
    assert [u.my_chat_member.new_chat_member.status for u in updates if u.my_chat_member] == ["member"]
    await bot.send_message(crew.id, "Ready")


async def test_voice_and_audio_files_can_be_fetched(telegram: BotApiServer, bot: Bot) -> None:
    dana = telegram.person("Dana")
    dana.sends_voice(b"OggS voice", duration_s=4)
    dana.sends_audio(b"ftyp audio", caption="size-up")
    dana.sends_audio(b"RIFF file", file_name="report.wav", mime_type="audio/wav", as_document=True)
    voice, audio, document = [u.message for u in await bot.get_updates() if u.message]
    assert voice.voice is not None
    assert (voice.voice.duration, voice.voice.file_size, audio.caption) == (timedelta(seconds=4), 10, "size-up")
    for message, content in ((voice, b"OggS voice"), (audio, b"ftyp audio"), (document, b"RIFF file")):
        sent = message.voice or message.audio or message.document
        assert sent is not None
        assert bytes(await (await sent.get_file()).download_as_bytearray()) == content


async def test_20_mb_is_the_most_that_can_be_fetched(telegram: BotApiServer, bot: Bot) -> None:
    dana = telegram.person("Dana")
    dana.sends_voice(bytes(20_000_000))
    dana.sends_voice(bytes(20_000_001))
    fits, too_big = [u.message.voice for u in await bot.get_updates() if u.message and u.message.voice]
    assert (await fits.get_file()).file_size == 20_000_000
    with pytest.raises(BadRequest, match=r"(?i)file is too big"):
        await too_big.get_file()


async def test_the_menu_is_kept_by_scope(telegram: BotApiServer, bot: Bot) -> None:
    await bot.set_my_commands([("pump", "Pump pressure")])
    assert [c.command for c in await bot.get_my_commands()] == ["pump"]
    assert await bot.get_my_commands(language_code="de") == ()


async def test_waiting_says_what_did_not_come(telegram: BotApiServer) -> None:
    dana = telegram.person("Dana")
    dana.says("hello")
    with pytest.raises(AssertionError, match=r"not within 0\.01 s: '175'"):
        await dana.private.hears("175", timeout_s=0.01)
