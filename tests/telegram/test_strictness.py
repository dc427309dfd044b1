"""The server refuses what the published Bot API doesn't allow: shown with the real client over HTTP."""

import asyncio
from typing import Any

import pytest
from telegram import Bot, InlineKeyboardButton, InlineKeyboardMarkup, MessageEntity
from telegram.error import BadRequest, Conflict, EndPointNotFound, Forbidden, InvalidToken, NetworkError

from tests.telegram.schema import ApiError, published
from tests.telegram.server import BotApiServer


def one_button(data: str) -> InlineKeyboardMarkup:
    return InlineKeyboardMarkup([[InlineKeyboardButton("Primary", callback_data=data)]])


async def test_a_message_comes_back_as_a_message(telegram: BotApiServer, bot: Bot) -> None:
    dana = telegram.person("Dana")
    asked = dana.says("two lines, 200 feet, 1.75")
    sent = await bot.send_message(
        dana.id,
        "175 psi",
        entities=[MessageEntity(MessageEntity.BOLD, 0, 7)],
        reply_to_message_id=asked.message_id,
        disable_notification=True,
    )
    assert sent.text == "175 psi"
    assert sent.reply_to_message is not None
    assert sent.reply_to_message.text == "two lines, 200 feet, 1.75"
    assert [(m.text, m.silent, m.reply_to) for m in dana.private.from_bot] == [("175 psi", True, asked)]
    assert telegram.refused == []


@pytest.mark.parametrize(
    ("method", "given", "why"),
    [
        ("sendMessage", {"text": "x"}, "chat_id is empty"),
        ("sendMessage", {"chat_id": 10001, "text": ""}, "message text is empty"),
        ("sendMessage", {"chat_id": 10001, "text": "  \n "}, "message text is empty"),
        ("sendMessage", {"chat_id": 10001, "text": "x" * 4097}, "message is too long"),
        ("sendMessage", {"chat_id": 10001, "text": "x", "colour": "red"}, "no parameter 'colour'"),
        ("sendMessage", {"chat_id": 10001, "text": "x", "message_thread_id": "two"}, "must be Integer"),
        ("sendMessage", {"chat_id": 10001, "text": "x", "disable_notification": "maybe"}, "must be Boolean"),
        ("sendMessage", {"chat_id": 10001, "text": "x", "reply_markup": "{"}, "can't parse reply_markup JSON"),
        ("sendMessage", {"chat_id": 10001, "text": "x", "reply_parameters": {}}, "needs 'message_id'"),
        ("sendMessage", {"chat_id": 10001, "text": "x", "reply_parameters": {"message_id": 99}}, "replied not found"),
        ("sendMessage", {"chat_id": 5, "text": "x"}, "chat not found"),
        ("sendMessage", {"chat_id": "@nobody", "text": "x"}, "chat not found"),
        ("sendMessage", {"chat_id": 10001, "text": "x", "message_thread_id": 7}, "message thread not found"),
        (
            "sendMessage",
            {"chat_id": 10001, "text": "x", "entities": [{"type": "bold", "offset": 0, "length": 9}]},
            "entity lies outside",
        ),
        (
            "sendMessage",
            {"chat_id": 10001, "text": "x", "reply_markup": {"inline_keyboard": [[{"text": "a", "callback": "b"}]]}},
            "no field 'callback'",
        ),
        (
            "sendMessage",
            {"chat_id": 10001, "text": "x", "reply_markup": {"inline_keyboard": [[{"text": "a"}]]}},
            "exactly one of its optional fields",
        ),
        ("editMessageText", {"chat_id": 10001, "message_id": 99, "text": "x"}, "message to edit not found"),
        ("deleteMessage", {"chat_id": 10001, "message_id": 99}, "message to delete not found"),
        ("answerCallbackQuery", {"callback_query_id": "1"}, "query is too old"),
        ("answerCallbackQuery", {"callback_query_id": "1", "text": "x" * 201}, "too long"),
        ("getFile", {"file_id": "nothing"}, "wrong file_id"),
        ("setMyCommands", {"commands": [{"command": "Pump", "description": "Pump pressure"}]}, "BOT_COMMAND_INVALID"),
        ("setMyCommands", {"commands": [{"command": "pump"}]}, "needs 'description'"),
    ],
)
@pytest.mark.filterwarnings("ignore:Please use:telegram.warnings.PTBUserWarning")
async def test_refused_with_400(telegram: BotApiServer, bot: Bot, method: str, given: dict[str, Any], why: str) -> None:
    assert telegram.person("Dana").says("hello").chat.id == 10001
    with pytest.raises(BadRequest) as refused:
        await bot.do_api_request(method, api_kwargs=given)
    assert why.casefold() in str(refused.value).casefold()
    assert len(telegram.refused) == 1


async def test_text_of_4096_and_data_of_64_bytes_is_the_limit(telegram: BotApiServer, bot: Bot) -> None:
    dana = telegram.person("Dana")
    dana.says("hello")
    await bot.send_message(dana.id, "¾" * 4096, reply_markup=one_button("¾" * 32))
    with pytest.raises(BadRequest, match=r"(?i)button_data_invalid"):
        await bot.send_message(dana.id, "x", reply_markup=one_button("¾" * 32 + "x"))


async def test_caption_of_1024_is_the_limit(telegram: BotApiServer, bot: Bot) -> None:
    dana = telegram.person("Dana")
    dana.says("hello")
    sent = await bot.send_document(dana.id, b"a report", filename="report.txt", caption="x" * 1024)
    assert sent.document is not None
    assert bytes(await (await sent.document.get_file()).download_as_bytearray()) == b"a report"
    with pytest.raises(BadRequest, match=r"(?i)caption is too long"):
        await bot.send_document(dana.id, b"a report", caption="x" * 1025)


async def test_an_edit_that_changes_nothing_is_refused(telegram: BotApiServer, bot: Bot) -> None:
    dana = telegram.person("Dana")
    dana.says("hello")
    board = await bot.send_message(dana.id, "Tank 500 gal")
    await board.edit_text("Tank 400 gal")
    with pytest.raises(BadRequest, match=r"(?i)message is not modified"):
        await board.edit_text("Tank 400 gal")
    await board.edit_text("Tank 400 gal", reply_markup=one_button("1"))
    with pytest.raises(BadRequest, match=r"(?i)message is not modified"):
        await board.edit_reply_markup(one_button("1"))
    assert [dana.private.from_bot[0].text, *dana.private.from_bot[0].earlier][:2] == ["Tank 400 gal", "Tank 500 gal"]


async def test_wrong_token_and_unknown_method(telegram: BotApiServer, bot: Bot) -> None:
    with pytest.raises(InvalidToken):
        async with Bot("7000001:AAnot-the-token-of-this-test-server-00", base_url=f"{telegram.api}/bot"):
            pytest.fail("was let in")
    with pytest.raises(EndPointNotFound):
        await bot.do_api_request("sendSmoke")
    with pytest.raises(NetworkError, match="doesn't play sendDice"):
        await bot.send_dice(1)


async def test_a_bot_may_not_write_where_it_is_not_wanted(telegram: BotApiServer, bot: Bot) -> None:
    dana, lee = telegram.person("Dana"), telegram.person("Lee")
    crew = telegram.group("Engine 12", dana, lee)
    assert lee.private.id == lee.id
    with pytest.raises(Forbidden, match="can't initiate"):
        await bot.send_message(lee.id, "hello")
    dana.says("hello")
    dana.blocks_bot()
    with pytest.raises(Forbidden, match="blocked by the user"):
        await bot.send_message(dana.id, "hello")
    telegram.set_bot(crew, "kicked", by=dana)
    with pytest.raises(Forbidden, match="kicked from the group"):
        await bot.send_message(crew.id, "hello")


async def test_pinning_in_a_group_needs_an_administrator(telegram: BotApiServer, bot: Bot) -> None:
    dana = telegram.person("Dana")
    crew = telegram.group("Engine 12", dana)
    board = await bot.send_message(crew.id, "Tank 500 gal")
    with pytest.raises(BadRequest, match=r"(?i)not enough rights"):
        await board.pin()
    telegram.set_bot(crew, "administrator", by=dana)
    await board.pin()
    assert crew.from_bot[0].pinned


async def test_polling_beside_a_webhook_or_another_poll_is_a_conflict(telegram: BotApiServer, bot: Bot) -> None:
    await bot.set_webhook("https://example.org/hook")
    with pytest.raises(Conflict, match="webhook"):
        await bot.get_updates()
    await bot.delete_webhook()
    older = asyncio.create_task(bot.get_updates(timeout=30))
    await telegram.until(lambda: telegram.polls == 1)
    async with Bot(telegram.token, base_url=f"{telegram.api}/bot") as second:
        newer = asyncio.create_task(second.get_updates(timeout=30))
        with pytest.raises(Conflict, match="terminated by other"):
            await older
        telegram.person("Dana").says("hello")
        assert len(await newer) == 1


def test_the_schema_holds_the_server_itself() -> None:
    with pytest.raises(AssertionError, match="needs 'update_id'"):
        published().check_object("Update", {"message": {}})
    with pytest.raises(ApiError, match="404"):
        published().read_call("sendSmoke", {}, {})
