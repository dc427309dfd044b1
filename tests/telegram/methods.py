"""What each Bot API method does to the world, with the refusals that the real service gives."""

import json
from collections.abc import Callable, Mapping

from tests.telegram.objects import Chat, Message, StoredFile, Topic, utf16_length
from tests.telegram.schema import ApiError, Json, bad_request
from tests.telegram.world import Person, World

LARGEST_DOWNLOAD_BYTES = 20_000_000  # published with getFile
_LARGEST_UPLOAD_BYTES = 50_000_000  # published with sendDocument
_MOST_BUTTONS = 100  # of one inline keyboard; unpublished, commonly quoted

Uploads = Mapping[str, bytes]


class Methods:
    """The methods played here; `call` answers one with its JSON result or raises ApiError."""

    def __init__(self, world: World) -> None:
        self._world = world
        self.webhook_url = ""
        self.webhook_secret = ""
        self._played: dict[str, Callable[[Json, Uploads], object]] = {
            "getMe": self._get_me,
            "setWebhook": self._set_webhook,
            "deleteWebhook": self._delete_webhook,
            "getWebhookInfo": self._get_webhook_info,
            "sendMessage": self._send_message,
            "sendVoice": self._send_file,
            "sendAudio": self._send_file,
            "sendDocument": self._send_file,
            "sendPhoto": self._send_file,
            "sendChatAction": self._send_chat_action,
            "editMessageText": self._edit_text,
            "editMessageReplyMarkup": self._edit_markup,
            "deleteMessage": self._delete_message,
            "pinChatMessage": self._pin,
            "unpinChatMessage": self._unpin,
            "answerCallbackQuery": self._answer_callback,
            "setMyCommands": self._set_commands,
            "getMyCommands": self._get_commands,
            "getFile": self._get_file,
            "getChat": self._get_chat,
            "getChatMember": self._get_member,
            "leaveChat": self._leave,
        }

    def call(self, method: str, given: Json, uploads: Uploads) -> object:
        """Plays one checked call; 501 for a published method that this server doesn't play."""
        played = self._played.get(method)
        if played is None:
            raise ApiError(501, f"Not Implemented: the test server doesn't play {method}")
        for name in ("parse_mode", "rich_message"):
            if name in given:
                raise ApiError(501, f"Not Implemented: the test server doesn't play {name}; send entities")
        result = played(given, uploads)
        self._world.changed()
        return result

    # The bot itself

    def _get_me(self, given: Json, uploads: Uploads) -> Json:
        return self._world.bot.as_json() | {
            "can_join_groups": True,
            "can_read_all_group_messages": not self._world.privacy,
            "supports_inline_queries": False,
        }

    def _set_webhook(self, given: Json, uploads: Uploads) -> bool:
        self.webhook_url = given["url"]
        self.webhook_secret = given.get("secret_token", "")
        return True

    def _delete_webhook(self, given: Json, uploads: Uploads) -> bool:
        self.webhook_url = ""
        if given.get("drop_pending_updates"):
            self._world.updates.clear()
        return True

    def _get_webhook_info(self, given: Json, uploads: Uploads) -> Json:
        return {
            "url": self.webhook_url,
            "has_custom_certificate": False,
            "pending_update_count": len(self._world.updates),
        }

    def _set_commands(self, given: Json, uploads: Uploads) -> bool:
        for command in given["commands"]:
            name = command["command"]
            if not (name.islower() and name.replace("_", "a").isascii() and name.replace("_", "a").isalnum()):
                raise bad_request("BOT_COMMAND_INVALID")
        self._world.commands[_scope(given)] = given["commands"]
        return True

    def _get_commands(self, given: Json, uploads: Uploads) -> list[Json]:
        return self._world.commands.get(_scope(given), [])

    # Sending

    def _send_message(self, given: Json, uploads: Uploads) -> Json:
        text = given["text"].strip()
        if not text:
            raise bad_request("message text is empty")
        _check_entities(text, given.get("entities", []))
        return self._post(given, text=text, entities=given.get("entities", []))

    def _send_file(self, given: Json, uploads: Uploads) -> Json:
        kind = next(kind for kind in ("voice", "audio", "document", "photo") if kind in given)
        stored = self._sent_file(given[kind], uploads)
        shown: Json = {
            "file_id": stored.file_id,
            "file_unique_id": stored.unique_id,
            "file_size": len(stored.content),
        }
        if kind in ("voice", "audio"):
            shown["duration"] = given.get("duration", 0)
        content: Json = {kind: [shown | {"width": 1, "height": 1}] if kind == "photo" else shown}
        if given.get("caption"):
            _check_entities(given["caption"], given.get("caption_entities", []))
            content["caption"] = given["caption"]
        return self._post(given, content=content, entities=given.get("caption_entities", []))

    def _sent_file(self, reference: str, uploads: Uploads) -> StoredFile:
        if not reference.startswith("attach://"):
            if reference not in self._world.files:
                raise bad_request("wrong file identifier/HTTP URL specified")
            return self._world.files[reference]
        content = uploads.get(reference.removeprefix("attach://"))
        if content is None:
            raise bad_request("there is no file part of that name")
        if not content:
            raise bad_request("file must be non-empty")
        if len(content) > _LARGEST_UPLOAD_BYTES:
            raise ApiError(413, "Request Entity Too Large")
        return self._world.store_file(content, "sent", "bin")

    def _post(
        self, given: Json, *, text: str | None = None, entities: list[Json] | None = None, content: Json | None = None
    ) -> Json:
        chat = self._writable_chat(given["chat_id"])
        _check_buttons(given.get("reply_markup"))
        message = self._world.post(
            chat,
            self._world.bot,
            text=text,
            entities=entities,
            content=content,
            topic=_topic(chat, given.get("message_thread_id")),
            reply_to=_replied(chat, given.get("reply_parameters")),
            markup=given.get("reply_markup"),
            silent=given.get("disable_notification", False),
        )
        return message.as_json()

    def _send_chat_action(self, given: Json, uploads: Uploads) -> bool:
        chat = self._writable_chat(given["chat_id"])
        _topic(chat, given.get("message_thread_id"))
        return True

    # Messages already sent

    def _edit_text(self, given: Json, uploads: Uploads) -> Json:
        message = self._own_message(given)
        if "text" not in given or not given["text"].strip():
            raise bad_request("message text is empty")
        if message.text is None:
            raise bad_request("there is no text in the message to edit")
        text, entities, markup = given["text"].strip(), given.get("entities", []), given.get("reply_markup")
        _check_entities(text, entities)
        self._change(message, text, entities, markup)
        return message.as_json()

    def _edit_markup(self, given: Json, uploads: Uploads) -> Json:
        message = self._own_message(given)
        self._change(message, message.text, message.entities, given.get("reply_markup"))
        return message.as_json()

    def _change(self, message: Message, text: str | None, entities: list[Json], markup: Json | None) -> None:
        _check_buttons(markup)
        markup = markup if markup and markup.get("inline_keyboard") else None
        if (text, entities, markup) == (message.text, message.entities, message.markup):
            raise bad_request(
                "message is not modified: specified new message content and reply markup are exactly the same"
                " as a current content and reply markup of the message"
            )
        message.earlier.append(message.text)
        message.text, message.entities, message.markup = text, entities, markup
        message.edit_date = self._world.now()

    def _delete_message(self, given: Json, uploads: Uploads) -> bool:
        chat = self._writable_chat(given["chat_id"])
        message = chat.find(given["message_id"])
        if message is None:
            raise bad_request("message to delete not found")
        if message.sender is not self._world.bot and chat.bot_is != "administrator":
            raise bad_request("message can't be deleted")
        message.deleted = True
        if message in chat.pinned:
            chat.pinned.remove(message)
        return True

    def _pin(self, given: Json, uploads: Uploads) -> bool:
        chat = self._writable_chat(given["chat_id"])
        _may_pin(chat)
        message = chat.find(given["message_id"])
        if message is None:
            raise bad_request("message to pin not found")
        if message not in chat.pinned:
            chat.pinned.append(message)
            shown = {"pinned_message": message.as_json(with_reply=False)}
            self._world.post(chat, self._world.bot, content=shown, topic=message.topic)
        return True

    def _unpin(self, given: Json, uploads: Uploads) -> bool:
        chat = self._writable_chat(given["chat_id"])
        _may_pin(chat)
        message_id = given.get("message_id")
        message = chat.find(message_id) if message_id else (chat.pinned[-1] if chat.pinned else None)
        if message is None or message not in chat.pinned:
            raise bad_request("message to unpin not found")
        chat.pinned.remove(message)
        return True

    def _own_message(self, given: Json) -> Message:
        if "chat_id" not in given or "message_id" not in given:
            raise bad_request("message identifier is not specified")
        message = self._writable_chat(given["chat_id"]).find(given["message_id"])
        if message is None:
            raise bad_request("message to edit not found")
        if message.sender is not self._world.bot:
            raise bad_request("message can't be edited")
        return message

    def _answer_callback(self, given: Json, uploads: Uploads) -> bool:
        press = self._world.presses.get(given["callback_query_id"])
        if press is None:
            raise bad_request("query is too old and response timeout expired or query ID is invalid")
        press.answered, press.answer = True, given.get("text")
        return True

    # Chats and files

    def _get_file(self, given: Json, uploads: Uploads) -> Json:
        stored = self._world.files.get(given["file_id"])
        if stored is None:
            raise bad_request("wrong file_id or the file is temporarily unavailable")
        if len(stored.content) > LARGEST_DOWNLOAD_BYTES:
            raise bad_request("file is too big")
        return stored.as_json()

    def _get_chat(self, given: Json, uploads: Uploads) -> Json:
        chat = self._writable_chat(given["chat_id"])
        gifts = ("unlimited_gifts", "limited_gifts", "unique_gifts", "premium_subscription", "gifts_from_channels")
        shown = chat.as_json() | {
            "accent_color_id": 0,
            "max_reaction_count": 0,
            "accepted_gift_types": dict.fromkeys(gifts, False),
        }
        if chat.pinned:
            shown["pinned_message"] = chat.pinned[-1].as_json(with_reply=False)
        return shown

    def _get_member(self, given: Json, uploads: Uploads) -> Json:
        chat = self._writable_chat(given["chat_id"])
        if given["user_id"] == self._world.bot.id:
            return self._world.member_json(chat.bot_is)
        member = next((m for m in chat.members if m.id == given["user_id"]), None)
        if member is None:
            raise bad_request("user not found")
        return {"status": "member", "user": member.as_json()}

    def _leave(self, given: Json, uploads: Uploads) -> bool:
        chat = self._writable_chat(given["chat_id"])
        if chat.type == "private":
            raise bad_request("chat member status can't be changed in private chats")
        self._world.set_bot(chat, "left", by=self._world.bot)
        return True

    def _writable_chat(self, chat_id: object) -> Chat:
        """The chat that the bot may write to, else the refusal that the real service gives."""
        chat = self._world.chats.get(chat_id) if isinstance(chat_id, int) else None
        if chat is None:
            raise bad_request("chat not found")
        if chat.moved_to:
            raise bad_request("group chat was upgraded to a supergroup chat", migrate_to_chat_id=chat.moved_to.id)
        if chat.bot_is == "blocked":
            raise ApiError(403, "Forbidden: bot was blocked by the user")
        if chat.bot_is == "kicked":
            raise ApiError(403, f"Forbidden: bot was kicked from the {chat.type} chat")
        if chat.bot_is == "left":
            raise ApiError(403, f"Forbidden: bot is not a member of the {chat.type} chat")
        if isinstance(chat.person, Person) and not any(not m.sender.is_bot for m in chat.all_messages):
            raise ApiError(403, "Forbidden: bot can't initiate conversation with a user")
        return chat


def _scope(given: Json) -> str:
    scope = given.get("scope", {"type": "default"})
    return f"{json.dumps(scope, sort_keys=True)} {given.get('language_code', '')}".strip()


def _topic(chat: Chat, thread_id: int | None) -> Topic | None:
    if thread_id is None:
        return None
    topic = next((t for t in chat.topics if t.thread_id == thread_id), None)
    if topic is None:
        raise bad_request("message thread not found")
    if not topic.open:
        raise bad_request("TOPIC_CLOSED")
    return topic


def _replied(chat: Chat, parameters: Json | None) -> Message | None:
    if parameters is None:
        return None
    if parameters.get("chat_id", chat.id) != chat.id:
        raise ApiError(501, "Not Implemented: the test server doesn't play replies across chats")
    message = chat.find(parameters["message_id"])
    if message is None and not parameters.get("allow_sending_without_reply"):
        raise bad_request("message to be replied not found")
    return message


def _check_entities(text: str, entities: list[Json]) -> None:
    for entity in entities:
        if entity["offset"] < 0 or entity["length"] < 1 or entity["offset"] + entity["length"] > utf16_length(text):
            raise bad_request("entity lies outside the text")


def _check_buttons(markup: Json | None) -> None:
    rows = (markup or {}).get("inline_keyboard", [])
    buttons = [button for row in rows for button in row]
    if len(buttons) > _MOST_BUTTONS:
        raise bad_request("reply markup is too long")
    for button in buttons:
        if not button["text"].strip():
            raise bad_request("Text buttons are unallowed in the inline keyboard")
        if len(set(button) - {"text", "style", "icon_custom_emoji_id"}) != 1:
            raise bad_request("an inline button needs exactly one of its optional fields")


def _may_pin(chat: Chat) -> None:
    """Published with pinChatMessage: in a group the bot must be an administrator with that right."""
    if chat.type != "private" and chat.bot_is != "administrator":
        raise bad_request("not enough rights to manage pinned messages in the chat")
