"""The world behind the test server: who writes what where, and the updates that the bot gets of it."""

from __future__ import annotations

import asyncio
import itertools
import time
from collections.abc import Callable
from urllib.parse import parse_qs, urlsplit

from tests.telegram.objects import Chat, Message, StoredFile, Topic, User, found_entities
from tests.telegram.schema import Json, published

# Left out of getUpdates unless asked for by name (published with getUpdates: allowed_updates).
_ONLY_WHEN_ASKED = {"chat_member", "message_reaction", "message_reaction_count"}


class Person(User):
    """Somebody with a telephone: what they do in a chat reaches the bot as the service would tell it."""

    def __init__(self, world: World, person_id: int, name: str) -> None:
        super().__init__(person_id, name, name.lower())
        self._world = world

    @property
    def private(self) -> Chat:
        """Their private chat with the bot."""
        return self._world.private_chat(self)

    def says(self, text: str, where: Chat | Topic | None = None, *, reply_to: Message | None = None) -> Message:
        """Writes a text message, in their private chat when no other is named."""
        return self._posts(where, reply_to, text=text, entities=found_entities(text))

    def edits(self, message: Message, text: str) -> None:
        """Changes a message of their own."""
        message.text, message.edit_date = text, self._world.now()
        self._world.push("edited_message", message.as_json())

    def sends_voice(
        self, sound: bytes, where: Chat | Topic | None = None, *, duration_s: int = 3, reply_to: Message | None = None
    ) -> Message:
        """Sends a voice message (OGG/Opus, as telephones record it)."""
        stored = self._world.store_file(sound, "voice", "oga")
        voice = _file_json(stored) | {"duration": duration_s, "mime_type": "audio/ogg"}
        return self._posts(where, reply_to, content={"voice": voice})

    def sends_audio(
        self,
        sound: bytes,
        where: Chat | Topic | None = None,
        *,
        file_name: str = "report.m4a",
        mime_type: str = "audio/mp4",
        duration_s: int = 3,
        caption: str = "",
        as_document: bool = False,
    ) -> Message:
        """Sends an audio file, as music or (as_document) as a plain file."""
        stored = self._world.store_file(sound, "music", file_name.rpartition(".")[2])
        shown = _file_json(stored) | {"file_name": file_name, "mime_type": mime_type}
        content: Json = {"document": shown} if as_document else {"audio": shown | {"duration": duration_s}}
        return self._posts(where, None, content=content | ({"caption": caption} if caption else {}))

    def presses(self, message: Message, label: str) -> Press:
        """Presses the inline button of that label; the press knows when and with what the bot answered it."""
        button = next((b for b in message.inline_buttons if b["text"] == label), None)
        assert button is not None, f"no button {label!r} under {message.text!r}: {message.buttons}"
        assert self in message.chat.members, f"{self.first_name} isn't in {message.chat.title or message.chat.id}"
        press = Press(self._world.next_id("press"))
        self._world.presses[press.query_id] = press
        self._world.push(
            "callback_query",
            {
                "id": press.query_id,
                "from": self.as_json(),
                "message": message.as_json(),
                "chat_instance": str(message.chat.id),
                "data": button["callback_data"],
            },
        )
        return press

    def follows(self, link: str, group: Chat | None = None) -> Message:
        """Opens a deep link of the bot: ?start=… in private, ?startgroup=… with the group it is added to."""
        query = parse_qs(urlsplit(link).query)
        assert urlsplit(link).path.strip("/") == self._world.bot.username, f"not a link to the bot: {link}"
        if "start" in query:
            return self.says(f"/start {query['start'][0]}")
        assert group is not None, "a ?startgroup= link needs the group that the bot is added to"
        self._world.set_bot(group, "member", by=self)
        return self.says(f"/start@{self._world.bot.username} {query['startgroup'][0]}", group)

    def blocks_bot(self) -> None:
        """Blocks the bot: it can no longer write to this person."""
        self._world.set_bot(self.private, "blocked", by=self)

    def unblocks_bot(self) -> None:
        """Lets the bot write again."""
        self._world.set_bot(self.private, "member", by=self)

    def _posts(
        self,
        where: Chat | Topic | None,
        reply_to: Message | None,
        *,
        text: str | None = None,
        entities: list[Json] | None = None,
        content: Json | None = None,
    ) -> Message:
        target = where or self.private
        chat, topic = (target.chat, target) if isinstance(target, Topic) else (target, None)
        assert self in chat.members, f"{self.first_name} isn't in {chat.title or chat.id}"
        return self._world.post(
            chat, self, topic=topic, reply_to=reply_to, text=text, entities=entities or [], content=content or {}
        )


class Press:
    """A button press: `answered` once the bot has answered the callback, `answer` the words it showed, if any."""

    def __init__(self, number: int) -> None:
        self.query_id = str(number)
        self.answered = False
        self.answer: str | None = None


class World:
    """People, chats, files and the queue of updates. `clock` gives the messages' time in Unix seconds."""

    def __init__(self, *, privacy: bool = False, clock: Callable[[], float] = time.time) -> None:
        self.bot = User(7_000_001, "Crosslay", "crosslay_test_bot", is_bot=True)
        self.privacy = privacy
        self.chats: dict[int, Chat] = {}
        self.files: dict[str, StoredFile] = {}
        self.presses: dict[str, Press] = {}
        self.updates: list[Json] = []
        self.delivered: list[Json] = []
        self.allowed_updates: list[str] = []
        self.commands: dict[str, list[Json]] = {}  # the menu, by scope as JSON
        self._clock = clock
        self._ids: dict[str, itertools.count[int]] = {}
        self._waiters: set[asyncio.Future[None]] = set()

    # People and chats

    def person(self, name: str) -> Person:
        """A new person of that first name, who hasn't written to the bot yet."""
        return Person(self, self.next_id("person", 10_001), name)

    def private_chat(self, person: Person) -> Chat:
        """A person's private chat with the bot; it is there once the person opened it."""
        return self.chats.get(person.id) or self._new_chat(person.id, "private", person=person, members=[person])

    def group(self, title: str, *members: Person, with_bot: bool = True) -> Chat:
        """A basic group; the bot is an ordinary member unless it is left out."""
        chat = self._new_chat(-self.next_id("group", 40_001), "group", title=title, members=list(members))
        chat.bot_is = "member" if with_bot else "left"
        return chat

    def supergroup(self, title: str, *members: Person, forum: bool = False, with_bot: bool = True) -> Chat:
        """A supergroup, with topics when it is a forum."""
        chat_id = -1_000_000_000_000 - self.next_id("supergroup", 2_000_001)
        chat = self._new_chat(chat_id, "supergroup", title=title, members=list(members))
        chat.is_forum, chat.bot_is = forum, "member" if with_bot else "left"
        return chat

    def _new_chat(
        self,
        chat_id: int,
        kind: str,
        *,
        members: list[Person],
        title: str | None = None,
        person: Person | None = None,
    ) -> Chat:
        chat = Chat(self, chat_id, kind, title=title, person=person, members=[*members])
        self.chats[chat.id] = chat
        return chat

    def open_topic(self, chat: Chat, name: str) -> Topic:
        """A new topic of a forum, announced as the service does."""
        assert chat.is_forum, f"{chat.title} is no forum"
        topic = Topic(chat, chat.last_message_id + 1, name)
        chat.topics.append(topic)
        self.post(chat, chat.members[0], topic=topic, content={"forum_topic_created": {"name": name, "icon_color": 0}})
        return topic

    def set_bot(self, chat: Chat, status: str, *, by: User) -> None:
        """Makes the bot a member, administrator, kicked or blocked in a chat, and tells it so."""
        before, chat.bot_is = chat.bot_is, status
        if status == "member" and before in ("left", "kicked") and chat.type != "private":
            self.post(chat, by, content={"new_chat_members": [self.bot.as_json()]})
        self.push(
            "my_chat_member",
            {
                "chat": chat.as_json(),
                "from": by.as_json(),
                "date": self.now(),
                "old_chat_member": self.member_json(before),
                "new_chat_member": self.member_json(status),
            },
        )

    def member_json(self, status: str) -> Json:
        """The bot's Bot API ChatMember for a status of `Chat.bot_is`."""
        user = {"user": self.bot.as_json()}
        match status:
            case "administrator":
                rights = dict.fromkeys(_ADMIN_RIGHTS, False) | {"can_pin_messages": True, "can_delete_messages": True}
                return {"status": status, "can_be_edited": False, "is_anonymous": False, **user, **rights}
            case "blocked" | "kicked":
                return {"status": "kicked", "until_date": 0, **user}
        return {"status": status, **user}

    def becomes_supergroup(self, group: Chat) -> Chat:
        """Upgrades a group: it gets a new id, the old one is dead, both chats say so."""
        members = [member for member in group.members if isinstance(member, Person)]
        new = self.supergroup(group.title or "", *members)
        group.moved_to, new.bot_is = new, group.bot_is
        self.post(group, members[0], content={"migrate_to_chat_id": new.id})
        self.post(new, members[0], content={"migrate_from_chat_id": group.id})
        return new

    # Messages and files

    def post(
        self,
        chat: Chat,
        sender: User,
        *,
        text: str | None = None,
        entities: list[Json] | None = None,
        content: Json | None = None,
        topic: Topic | None = None,
        reply_to: Message | None = None,
        markup: Json | None = None,
        silent: bool = False,
    ) -> Message:
        """Puts a message into a chat, and into the bot's updates where the bot may see it."""
        message = Message(
            chat,
            self._next_message_id(chat),
            sender,
            self.now(),
            text=text,
            entities=entities or [],
            content=content or {},
            topic=topic,
            reply_to=reply_to,
            markup=markup,
            silent=silent,
        )
        chat.all_messages.append(message)
        if self._bot_sees(message):
            self.push("message", message.as_json())
        self.changed()
        return message

    def _next_message_id(self, chat: Chat) -> int:
        """Supergroups count for themselves; private chats and basic groups share one count."""
        counter = f"messages of {chat.id}" if chat.type == "supergroup" else "messages"
        chat.last_message_id = self.next_id(counter)
        return chat.last_message_id

    def _bot_sees(self, message: Message) -> bool:
        """Whether the bot is told, privacy mode included (published: Bot features, privacy mode; from memory)."""
        chat = message.chat
        if chat.bot_is in ("left", "kicked", "blocked") or (message.sender.is_bot and not message.is_service):
            return False
        if chat.type == "private" or not self.privacy or chat.bot_is == "administrator" or message.is_service:
            return True
        if message.reply_to and message.reply_to.sender.is_bot:
            return True
        commands = [e for e in message.entities if e["type"] == "bot_command" and e["offset"] == 0]
        if not commands:
            return False
        command = (message.text or "")[: commands[0]["length"]]
        if "@" in command:
            return command.endswith(f"@{self.bot.username}")
        return bool(chat.from_bot)  # a plain command reaches the bot that wrote last: here there is only one

    def store_file(self, content: bytes, folder: str, ending: str) -> StoredFile:
        """Keeps an uploaded file."""
        number = self.next_id("file")
        stored = StoredFile(f"file-{number}", f"unique-{number}", f"{folder}/file_{number}.{ending}", content)
        self.files[stored.file_id] = stored
        return stored

    # Updates

    def push(self, kind: str, payload: Json) -> None:
        """Queues an update of that kind, unless the bot's allowed_updates leave it out."""
        allowed = kind in self.allowed_updates if self.allowed_updates else kind not in _ONLY_WHEN_ASKED
        if allowed:
            update = {"update_id": self.next_id("update", 900_001), kind: payload}
            published().check_object("Update", update)
            self.updates.append(update)
        self.changed()

    # Time, numbers, waiting

    def now(self) -> int:
        """Unix time of the world's clock, in whole seconds as messages carry it."""
        return int(self._clock())

    def next_id(self, kind: str, first: int = 1) -> int:
        """The next number of its kind."""
        return next(self._ids.setdefault(kind, itertools.count(first)))

    def changed(self) -> None:
        """Wakes everything that waits for a change."""
        waiters, self._waiters = self._waiters, set()
        for waiter in waiters:
            if not waiter.done():
                waiter.set_result(None)

    async def next_change(self) -> None:
        """Returns at the next change of anything here."""
        waiter = asyncio.get_running_loop().create_future()
        self._waiters.add(waiter)
        try:
            await waiter
        finally:
            self._waiters.discard(waiter)

    async def until(
        self, condition: Callable[[], bool], *, timeout_s: float = 10, what: Callable[[], str] | None = None
    ) -> None:
        """Waits for a condition on this world; AssertionError with `what` was awaited when it doesn't come."""
        try:
            async with asyncio.timeout(timeout_s):
                while not condition():
                    await self.next_change()
        except TimeoutError:
            raise AssertionError(f"not within {timeout_s} s: {what() if what else 'the awaited change'}") from None


_ADMIN_RIGHTS = (
    "can_manage_chat",
    "can_delete_messages",
    "can_manage_video_chats",
    "can_restrict_members",
    "can_promote_members",
    "can_change_info",
    "can_invite_users",
    "can_post_stories",
    "can_edit_stories",
    "can_delete_stories",
)


def _file_json(stored: StoredFile) -> Json:
    return {"file_id": stored.file_id, "file_unique_id": stored.unique_id, "file_size": len(stored.content)}
