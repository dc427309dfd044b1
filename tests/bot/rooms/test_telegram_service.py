"""The job on Telegram: said in a chat, answered there, told to whom it concerns; with everything that can go wrong."""

from datetime import UTC, datetime

import pytest

from bot.clock import SimulatedClock
from bot.store.tries import MOST
from tests.bot.rooms.at_work import all_read, at_work
from tests.telegram.server import BotApiServer

LAY = "two lines, 200 feet, 1.75, second floor"
START = datetime(2026, 3, 2, 14, 0, tzinfo=UTC)


async def test_a_lay_is_answered_where_it_was_asked(telegram: BotApiServer) -> None:
    dana = telegram.person("Dana")
    async with at_work(telegram, dana.private):
        asked = dana.says(LAY)
        answer = await dana.private.hears("175 psi")
    assert answer.reply_to is asked
    assert answer.silent
    assert answer.entities[0]["type"] == "bold"
    assert telegram.refused == []


async def test_chatter_in_a_group_gets_no_reply_and_a_call_does(telegram: BotApiServer) -> None:
    dana = telegram.person("Dana")
    crew = telegram.group("Engine 12", dana)
    async with at_work(telegram, crew) as work:
        dana.says("anyone want coffee", crew)
        dana.says(f"@crosslay_test_bot {LAY}", crew)
        await crew.hears("175 psi")
        await all_read(telegram, work)
    assert len(crew.from_bot) == 1


async def test_a_topic_is_kept(telegram: BotApiServer) -> None:
    dana = telegram.person("Dana")
    house = telegram.supergroup("Alder Bay", dana, forum=True)
    pump = house.topic("Pump")
    async with at_work(telegram, house):
        dana.says(LAY, pump)
        answer = await house.hears("175 psi")
    assert answer.topic is pump
    assert telegram.refused == []


async def test_an_edit_is_not_taken_for_a_correction(telegram: BotApiServer) -> None:
    dana = telegram.person("Dana")
    crew = telegram.group("Engine 12", dana)
    async with at_work(telegram, dana.private, crew) as work:
        asked = dana.says(LAY)
        await dana.private.hears("175 psi")
        dana.edits(asked, LAY)
        dana.edits(asked, "three lines")
        told = await dana.private.hears("An edit isn't read")
        dana.edits(asked, "four lines")
        dana.edits(dana.says("anyone want coffee", crew), "anyone want tea")
        await all_read(telegram, work)
    assert told.reply_to is asked
    assert len(dana.private.from_bot) == 2
    assert crew.from_bot == []


# Questions and buttons


async def test_a_question_is_answered_by_its_button(telegram: BotApiServer) -> None:
    dana, lee = telegram.person("Dana"), telegram.person("Lee")
    crew = telegram.group("Engine 12", dana, lee)
    telegram.set_bot(crew, "administrator", by=dana)
    async with at_work(telegram, crew, crew_room=crew) as work:
        dana.says("all clear", crew)
        question = await crew.hears("rimary")
        primary, secondary = question.buttons
        press = dana.presses(question, primary)
        late = lee.presses(question, secondary)
        await telegram.until(lambda: press.answered and late.answered)
        await all_read(telegram, work)
        await telegram.until(lambda: question.buttons == [], what=lambda: "the buttons taken away")
    assert (question.text or "").endswith(f"→ {primary} (Dana)")
    first, second = [m.text or "" for m in crew.from_bot if m.reply_to is question]
    assert "rimary" in first
    assert "answered already" in second
    assert telegram.refused == []


async def test_roles_by_button(telegram: BotApiServer) -> None:
    dana = telegram.person("Dana")
    async with at_work(telegram, dana.private) as work:
        dana.says("/start")
        welcome = await dana.private.hears("Who are you here?")
        assert welcome.buttons == ["Driver", "Officer", "Crew"]
        press = dana.presses(welcome, "Driver")
        await telegram.until(lambda: press.answered)
        assert press.answer == "I'm the driver"
        await all_read(telegram, work)
    assert welcome.buttons == ["Driver", "Officer", "Crew"]
    assert len(dana.private.from_bot) == 2


# Who is told


async def test_the_crew_hears_the_clock_while_the_driver_is_answered_in_private() -> None:
    clock = SimulatedClock(START)
    async with BotApiServer(clock=lambda: clock.now().timestamp()) as telegram:
        dana, lee = telegram.person("Dana"), telegram.person("Lee")
        crew = telegram.group("Engine 12", dana, lee)
        telegram.set_bot(crew, "administrator", by=dana)
        async with at_work(telegram, dana.private, crew, crew_room=crew, clock=clock) as work:
            dana.says("on scene")
            await dana.private.hears()
            clock.advance(60)
            dana.says(LAY)
            await dana.private.hears("175 psi")
            clock.advance(9 * 60)
            await work.station.pipeline.fire()
            reminder = await crew.hears("Elapsed: 10 min on scene")
            await all_read(telegram, work)
        assert reminder.silent
        assert not any("175" in (m.text or "") for m in crew.from_bot)
        assert telegram.refused == []


async def test_reminders_and_the_board_come_in_the_topic_that_was_talked_in() -> None:
    clock = SimulatedClock(START)
    async with BotApiServer(clock=lambda: clock.now().timestamp()) as telegram:
        lee = telegram.person("Lee")
        crew = telegram.supergroup("Alder Bay", lee, forum=True)
        telegram.set_bot(crew, "administrator", by=lee)
        fire = crew.topic("Fires")
        async with at_work(telegram, crew, crew_room=crew, clock=clock) as work:
            lee.says("on scene", fire)
            await crew.hears("On scene")
            await telegram.until(lambda: bool(crew.pinned), what=lambda: "a pinned board")
            clock.advance(600)
            await work.station.pipeline.fire()
            await crew.hears("Elapsed: 10 min on scene")
        assert {message.topic for message in crew.from_bot} == {fire}
        assert telegram.refused == []


async def test_two_rooms_one_incident(telegram: BotApiServer) -> None:
    dana, lee = telegram.person("Dana"), telegram.person("Lee")
    crew = telegram.group("Engine 12", dana, lee)
    telegram.set_bot(crew, "administrator", by=dana)
    async with at_work(telegram, dana.private, crew, crew_room=crew) as work:
        dana.says("water on the fire")
        await dana.private.hears("ater on the fire")
        await crew.hears("ater on the fire")
        lee.says("@crosslay_test_bot mayday mayday mayday", crew)
        in_crew = await crew.hears("Use the radio")
        in_private = await dana.private.hears("MAYDAY")
        await all_read(telegram, work)
        async with work.station.store.begin() as tx:
            from bot.store import log, places

            incidents = await log.latest_incidents(tx)
            assert len(incidents) == 1
            assert len(await places.of_incident(tx, incidents[0].id)) == 2
    assert in_crew.sender.is_bot
    assert not in_private.silent
    assert telegram.refused == []


# Nothing twice, nothing lost


async def test_an_update_that_comes_twice_or_late_does_nothing_twice(telegram: BotApiServer) -> None:
    dana = telegram.person("Dana")
    async with at_work(telegram, dana.private) as work:
        dana.says(LAY)
        await dana.private.hears("175 psi")
        dana.says("/role")
        await dana.private.hears("Who are you here?")
        telegram.redelivers(2)
        telegram.reverses_next(2)
        dana.says("two lines, 200 feet, 1.75")
        dana.says(LAY)
        await dana.private.hears("170 psi")
        await all_read(telegram, work)
    assert len(dana.private.from_bot) == 4


async def test_a_flooded_room_waits_alone(telegram: BotApiServer) -> None:
    dana, lee = telegram.person("Dana"), telegram.person("Lee")
    async with at_work(telegram, dana.private, lee.private):
        telegram.fault("sendMessage", chat=dana.private, retry_after=1)
        dana.says(LAY)
        await telegram.until(lambda: telegram.faults[0].hits == 1)
        lee.says(LAY)
        await lee.private.hears("175 psi")
        assert dana.private.from_bot == []
        await dana.private.hears("175 psi")
    assert not (dana.private.from_bot[0].text or "").startswith("(sent again")
    assert telegram.refused == []


async def test_a_dropped_connection_is_made_good_and_marked(telegram: BotApiServer) -> None:
    dana = telegram.person("Dana")
    async with at_work(telegram, dana.private) as work:
        telegram.fault("sendMessage", drop=True)
        dana.says(LAY)
        first = await dana.private.hears("175 psi")
        telegram.fault("sendMessage", lose_answer=True)
        dana.says("two lines, 200 feet, 1.75")
        await dana.private.hears("170 psi")
        again = await dana.private.hears("170 psi")
        await all_read(telegram, work)
    assert (first.text or "").startswith("(sent again: it may be here already)")
    assert (again.text or "").startswith("(sent again: it may be here already)")
    assert len(dana.private.from_bot) == 3


async def test_a_person_who_blocked_the_bot_holds_nobody_up(telegram: BotApiServer) -> None:
    dana, lee = telegram.person("Dana"), telegram.person("Lee")
    async with at_work(telegram, dana.private, lee.private) as work:
        held = telegram.fault("sendMessage", chat=dana.private, hold=True)
        dana.says(LAY)
        await telegram.until(lambda: held.hits == 1)
        dana.blocks_bot()
        held.release()
        await all_read(telegram, work)
        dana.unblocks_bot()
        dana.says("two lines, 200 feet, 1.75")
        await dana.private.hears("170 psi")
        lee.says(LAY)
        answer = await lee.private.hears("175 psi")
        assert answer.reply_to is not None


# Who is served


async def test_a_room_that_is_not_served_is_told_once_for_ever(telegram: BotApiServer, tmp_path: object) -> None:
    dana, stranger = telegram.person("Dana"), telegram.person("Sam")
    other = telegram.group("Elsewhere", stranger, with_bot=False)
    database = f"sqlite:///{tmp_path}/record.sqlite"
    for _ in range(2):
        async with at_work(telegram, dana.private, database=database) as work:
            telegram.set_bot(other, "member", by=stranger)
            for _ in range(3):
                stranger.says(LAY)
                stranger.says(LAY, other)
            await all_read(telegram, work)
            telegram.set_bot(other, "left", by=stranger)
    (told,) = stranger.private.from_bot
    assert f"its number {stranger.id} goes into CROSSLAY_ROOMS" in (told.text or "")
    (told,) = other.from_bot
    assert f"its number {other.id} goes" in (told.text or "")
    assert telegram.refused == []


async def test_a_join_link_lets_one_room_in_for_the_incident(telegram: BotApiServer) -> None:
    dana, kim, sam = (telegram.person(name) for name in ("Dana", "Kim", "Sam"))
    guests = telegram.group("Engine 9", kim, with_bot=False)
    async with at_work(telegram, dana.private) as work:
        dana.says("/link engine 9")
        await dana.private.hears("none is open here")
        dana.says("water on the fire")
        await dana.private.hears("ater on the fire")
        dana.says("engine 7 on scene")
        await dana.private.hears("Engine 7 on scene")
        dana.says("/link")
        asked = await dana.private.hears("A link for which company?")
        assert asked.buttons == ["Engine 7"]
        dana.presses(asked, "Engine 7")
        await dana.private.hears("startgroup=")
        dana.says("/link Engine 9")
        links = ((await dana.private.hears("startgroup=")).text or "").split()
        group_link = next(word for word in links if "startgroup=" in word)
        kim.follows(group_link, guests)
        joined = await guests.hears("as engine 9")
        assert joined.buttons == ["Driver", "Officer", "Crew"]
        kim.says("@crosslay_test_bot 200 feet of 1.75 flowing 150", guests)
        await guests.hears("Engine 9 has no rig file here")
        sam.follows(group_link.replace("startgroup=", "start="))
        told = (await sam.private.hears("This bot serves the rooms of one fire department")).text or ""
        assert "used already or is over: ask the incident's officer or driver for a new one" in told
        dana.says("/start " + "x" * 12)
        await dana.private.hears("used already or is over")
        for _ in range(MOST):
            sam.follows(group_link.replace("startgroup=", "start="))
        await all_read(telegram, work)
        assert len(sam.private.from_bot) == MOST - 1, "what to do each time, until codes are being tried"
    assert telegram.refused == []


async def test_the_officer_confirms_by_button_and_only_they_make_links(telegram: BotApiServer) -> None:
    dana, lee = telegram.person("Dana"), telegram.person("Lee")
    crew = telegram.group("Engine 12", dana, lee)
    telegram.set_bot(crew, "administrator", by=dana)
    async with at_work(telegram, dana.private, crew, crew_room=crew) as work:
        dana.says("I'm the officer")
        await dana.private.hears("You are officer of Engine 12")
        dana.says("on scene")
        await dana.private.hears("n scene")
        lee.says("/link engine 9", crew)
        await crew.hears("No join code was made.")
        lee.says("@crosslay_test_bot I'm the driver", crew)
        await crew.hears("The officer (Dana) is asked whether you are the driver of Engine 12.")
        question = await dana.private.hears("Lee says they are the driver of Engine 12. Is that so?")
        dana.presses(question, "Lee is the driver")
        await crew.hears("Lee is the driver of Engine 12 now.")
        lee.says("/link engine 9", crew)
        await crew.hears("startgroup=")
        await all_read(telegram, work)
    assert telegram.refused == []


async def test_a_link_doesnt_make_the_companys_own_room_a_guests(telegram: BotApiServer) -> None:
    dana = telegram.person("Dana")
    async with at_work(telegram, dana.private) as work:
        dana.says("water on the fire")
        await dana.private.hears("ater on the fire")
        dana.says("/link engine 9")
        links = ((await dana.private.hears("start=")).text or "").split()
        dana.follows(next(word for word in links if "start=" in word))
        await dana.private.hears("This room is in that incident already.")
        dana.says("on scene")
        told = await dana.private.hears("On scene")
        assert "Engine 9" not in (told.text or "")
        await all_read(telegram, work)


async def test_a_chat_that_came_by_a_link_hears_nothing_of_the_next_incident() -> None:
    clock = SimulatedClock(START)
    async with BotApiServer(clock=lambda: clock.now().timestamp()) as telegram:
        dana, kim = telegram.person("Dana"), telegram.person("Kim")
        async with at_work(telegram, dana.private, clock=clock) as work:
            dana.says("water on the fire")
            await dana.private.hears("ater on the fire")
            dana.says("/link engine 9")
            links = ((await dana.private.hears("start=")).text or "").split()
            kim.follows(next(word for word in links if "start=" in word))
            await kim.private.hears("You are in incident")
            dana.says("mayday mayday, second floor")
            await kim.private.hears("MAYDAY")
            dana.says("mayday cleared")
            await kim.private.hears("Mayday cleared")
            dana.says("command terminated")
            await dana.private.hears("Command terminated")
            clock.advance(60)
            dana.says("water on the fire")
            await dana.private.hears("ater on the fire")
            before = len(kim.private.from_bot)
            dana.says("mayday mayday, third floor")
            await dana.private.hears("third floor")
            await all_read(telegram, work)
            async with work.station.store.begin() as tx:
                from bot.store import log

                assert len(await log.latest_incidents(tx)) == 2
        assert kim.private.from_bot[before:] == []


async def test_an_unserved_chat_is_let_in_by_its_own_code_alone(telegram: BotApiServer) -> None:
    """Two chats with one code: the second isn't served, whichever of them was first read."""
    dana, kim, sam = (telegram.person(name) for name in ("Dana", "Kim", "Sam"))
    async with at_work(telegram, dana.private) as work:
        dana.says("water on the fire")
        await dana.private.hears("ater on the fire")
        dana.says("join code for engine 9")
        told = (await dana.private.hears("Join code for Engine 9")).text or ""
        code = "".join(told.partition(": ")[2].split()[:8]).rstrip(".")
        kim.says(f"join {code}")
        sam.says(f"join {code}")
        await kim.private.hears("Engine 9 joined")
        await sam.private.hears("This bot serves the rooms of one fire department")
        sam.says("how long")
        await all_read(telegram, work)
    assert len(sam.private.from_bot) == 1


async def test_a_said_join_code_lets_a_room_in_with_the_brief(telegram: BotApiServer) -> None:
    dana, kim, sam = (telegram.person(name) for name in ("Dana", "Kim", "Sam"))
    async with at_work(telegram, dana.private) as work:
        dana.says("dispatch: structure fire, 214 Harbor Street, engine 12")
        await dana.private.hears("214 Harbor Street")
        dana.says("join code for engine 9")
        told = (await dana.private.hears("Join code for Engine 9")).text or ""
        digits = " ".join(told.partition(": ")[2].split()[:8]).rstrip(".")
        sam.says("join 0 0 0 0 0 0")
        await sam.private.hears("This bot serves the rooms of one fire department")
        kim.says(f"join {digits}")
        assert "214 Harbor Street" in ((await kim.private.hears("Engine 9 joined")).text or "")
        kim.says("on scene")
        await kim.private.hears("Engine 9 on scene")
        await all_read(telegram, work)
    assert telegram.refused == []


@pytest.mark.parametrize("told_by", ["update", "refusal"])
async def test_a_group_that_becomes_a_supergroup_goes_on(
    telegram: BotApiServer, tmp_path: object, told_by: str
) -> None:
    dana = telegram.person("Dana")
    crew = telegram.group("Engine 12", dana)
    database = f"sqlite:///{tmp_path}/record.sqlite"
    async with at_work(telegram, dana.private, crew, crew_room=crew, database=database) as work:
        dana.says("on scene", crew)
        await crew.hears()
        if told_by == "update":
            new = telegram.becomes_supergroup(crew)
            await all_read(telegram, work)
        else:
            telegram.allowed_updates = ["callback_query"]  # the news of the move never comes
            new = telegram.becomes_supergroup(crew)
            telegram.allowed_updates = ["message", "callback_query", "my_chat_member"]
        dana.says("water on the fire")
        await new.hears("ater on the fire")
    async with at_work(telegram, dana.private, crew, crew_room=crew, database=database):
        dana.says(f"@crosslay_test_bot {LAY}", new)
        await new.hears("175 psi")
    assert [line for line in telegram.refused if "upgraded" not in line] == []


async def test_a_room_no_longer_served_is_told_nothing_more(telegram: BotApiServer, tmp_path: object) -> None:
    dana, lee = telegram.person("Dana"), telegram.person("Lee")
    database = f"sqlite:///{tmp_path}/record.sqlite"
    async with at_work(telegram, dana.private, lee.private, database=database):
        lee.says(LAY)
        await lee.private.hears("175 psi")
    before = len(lee.private.from_bot)
    async with at_work(telegram, dana.private, database=database) as work:
        dana.says("mayday mayday mayday")
        await dana.private.hears("Use the radio")
        await all_read(telegram, work)
    assert len(lee.private.from_bot) == before


# The board


async def test_the_board_is_pinned_and_edited_only_when_it_changes(
    telegram: BotApiServer, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr("bot.rooms.telegram.boards.GAP_S", 0)
    dana = telegram.person("Dana")
    crew = telegram.group("Engine 12", dana)
    telegram.set_bot(crew, "administrator", by=dana)
    async with at_work(telegram, dana.private, crew, crew_room=crew) as work:
        dana.says("on scene")
        await telegram.until(lambda: bool(crew.pinned), what=lambda: "a pinned board")
        (board,) = crew.pinned
        before = board.text
        dana.says("water on the fire")
        await telegram.until(lambda: board.text != before, what=lambda: "an edited board")
        assert "ater on the fire" in (board.text or "")
        await all_read(telegram, work)
    assert board.silent
    assert crew.pinned == [board]
    assert telegram.refused == []


async def test_without_the_right_to_pin_the_board_is_still_shown(
    telegram: BotApiServer, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr("bot.rooms.telegram.boards.GAP_S", 0)
    dana = telegram.person("Dana")
    crew = telegram.group("Engine 12", dana)
    async with at_work(telegram, dana.private, crew, crew_room=crew):
        dana.says("on scene")
        board = await crew.hears("CLOCKS")
        await telegram.until(lambda: bool(telegram.called("pinChatMessage")))
        board.deleted = True
        dana.says("water on the fire")
        await telegram.until(lambda: any("CLOCKS" in (m.text or "") for m in crew.from_bot), what=lambda: "a new board")
    assert crew.pinned == []


@pytest.mark.parametrize("refusal", ["403 Forbidden", "400 chat not found"])
async def test_a_chat_that_refuses_ends_its_board_and_the_officer_is_told_once(
    telegram: BotApiServer, monkeypatch: pytest.MonkeyPatch, refusal: str
) -> None:
    monkeypatch.setattr("bot.rooms.telegram.boards.GAP_S", 0)
    dana = telegram.person("Dana")
    crew = telegram.group("Engine 12", dana)
    telegram.set_bot(crew, "administrator", by=dana)
    async with at_work(telegram, dana.private, crew, crew_room=crew) as work:
        dana.says("I'm the officer")
        dana.says("on scene")
        await telegram.until(lambda: bool(crew.pinned), what=lambda: "a pinned board")
        if refusal.startswith("403"):
            telegram.set_bot(crew, "kicked", by=dana)
        else:
            del telegram.chats[crew.id]
        dana.says("water on the fire")
        await dana.private.hears("The crew's room isn't reached")
        await all_read(telegram, work)
        tried = len(telegram.refused)
        for report in ("primary search complete", "under control"):
            dana.says(report)
            await dana.private.hears("Logged")
            await all_read(telegram, work)
        dana.says("mayday mayday mayday, engine 12, second floor")
        alarm = await dana.private.hears("MAYDAY stamped")
    assert "NOT REACHED: the crew's room. Tell them by radio." in (alarm.text or "")
    told = [m for m in dana.private.from_bot if "isn't reached" in (m.text or "")]
    assert len(told) == 1
    edits = [line for line in telegram.refused[tried:] if "editMessageText" in line or "pin" in line]
    assert edits == []


async def test_a_button_of_anybodys_making_stops_nothing(telegram: BotApiServer) -> None:
    dana = telegram.person("Dana")
    async with at_work(telegram, dana.private) as work:
        dana.says("all clear")
        question = await dana.private.hears("rimary")
        question.inline_buttons[0]["callback_data"] = "q" + "9" * 40 + ":0"
        dana.presses(question, question.buttons[0])
        await dana.private.hears("doesn't belong to an open question")
        await all_read(telegram, work)
    assert telegram.refused == []
