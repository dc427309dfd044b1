"""Who is told where: nobody is left out, nobody is told twice."""

from __future__ import annotations

from datetime import UTC, datetime

import msgspec
import pytest

from bot.message.directory import Directory
from bot.store.places import Place


def place(room: str, role: str | None = None, *, grouped: bool = False, unit: str | None = None) -> Place:
    return Place(room=room, company="engine 12", role=role, grouped=grouped, unit=unit)


DRIVER, OFFICER, CREW = (
    place("driver's", "driver"),
    place("officer's", "officer"),
    place("crew's", "crew", grouped=True),
)
GUEST = place("guests'", unit="engine 9", grouped=True)
GONE = msgspec.structs.replace(OFFICER, unreached_since=datetime(2026, 3, 7, 12, tzinfo=UTC))


@pytest.mark.parametrize(
    ("places", "audience", "rooms"),
    [
        ([DRIVER, OFFICER, CREW], ("driver",), ("driver's",)),
        ([DRIVER, OFFICER, CREW], ("crew", "officer"), ("crew's", "officer's")),
        ([DRIVER, OFFICER, CREW], ("all",), ("crew's", "driver's", "officer's")),
        ([DRIVER, OFFICER, CREW], ("engine 12",), ("crew's",)),
        ([DRIVER, OFFICER, CREW, GUEST], ("engine 9",), ("guests'",)),
        ([DRIVER, OFFICER, CREW, GUEST], ("crew",), ("crew's",)),
        ([DRIVER, OFFICER, CREW], ("engine 9",), ("crew's",)),
        ([OFFICER, CREW], ("driver",), ("crew's",)),
        ([DRIVER, GONE, CREW], ("officer",), ("officer's", "crew's")),
        ([DRIVER, GONE, CREW], ("officer", "driver"), ("officer's", "crew's", "driver's")),
        ([DRIVER, OFFICER], ("crew",), ("driver's", "officer's")),
        ([CREW], ("driver", "officer", "crew", "all"), ("crew's",)),
        ([place("pump"), place("yard", grouped=True)], ("officer",), ("yard",)),
        ([place("pump")], ("officer", "crew"), ("pump",)),
        ([GUEST], ("crew",), ("guests'",)),
        ([place("kim's", "crew"), place("yard", grouped=True)], ("crew",), ("yard", "kim's")),
        ([place("kim's", "crew"), DRIVER], ("crew", "officer"), ("kim's",)),
        ([DRIVER, place("sam's"), CREW], ("sam's",), ("sam's",)),
        ([DRIVER, GUEST, CREW], ("guests'",), ("guests'",)),
        ([DRIVER, CREW], ("left long ago",), ("crew's",)),
    ],
)
def test_rooms_of_an_audience(places: list[Place], audience: tuple[str, ...], rooms: tuple[str, ...]) -> None:
    assert Directory(places, "engine 12").rooms(audience) == rooms


def test_the_crew_room_of_the_settings_is_the_crews() -> None:
    rooms = [place("pump"), place("telegram:-100"), place("hall", grouped=True)]
    for named in ("-100", "telegram:-100"):
        assert Directory(rooms, "engine 12", crew_room=named).rooms(("crew", "officer")) == ("telegram:-100",)


@pytest.mark.parametrize(
    ("places", "everyone"),
    [([place("local")], True), ([place("local"), GUEST], False), ([place("local"), DRIVER], False)],
)
def test_one_room_alone_holds_everyone(places: list[Place], everyone: bool) -> None:
    assert Directory(places, "engine 12").holds_everyone("local") is everyone
