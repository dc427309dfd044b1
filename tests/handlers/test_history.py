"""The log and its fold: what is told late, undone or corrected counts from its own time; live and folded are one."""

from __future__ import annotations

from datetime import timedelta

from hypothesis import given
from hypothesis import strategies as st

from handlers.events import (
    BenchmarkReported,
    CrewComingOut,
    CrewEntered,
    CrewLeft,
    Event,
    EventBody,
    IncidentClosed,
    IncidentOpened,
    LineOpened,
    LineShut,
    MaydayCleared,
    MaydayDeclared,
    ParAnswered,
    ParRequested,
    PumpReady,
    Retracted,
    SourceChanged,
    TankRead,
    WorkingLine,
)
from handlers.history import History, effective, fold
from handlers.scene import Scene
from tests.handlers.fireground import DAY

UNITS = ("engine 12", "engine 9")


def line(number: int, flow_gpm: float = 150.0, fill_gal: float = 25.0) -> WorkingLine:
    return WorkingLine(number, f"Line {number}", flow_gpm, 170.0, fill_gal)


def event(seq: int, at_s: float, body: EventBody, unit: str = "engine 12", logged_s: float | None = None) -> Event:
    at, logged = DAY + timedelta(seconds=at_s), DAY + timedelta(seconds=at_s if logged_s is None else logged_s)
    return Event("i", seq, at, logged, "driver", unit, "yard", f"m{seq}", 0, body)


numbers = st.integers(1, 4)
bodies: st.SearchStrategy[EventBody] = st.one_of(
    st.builds(LineOpened, st.builds(line, numbers, st.floats(1, 1000), st.floats(0, 100))),
    st.builds(LineShut, numbers),
    st.builds(SourceChanged, st.sampled_from(["tank", "hydrant", "draft"]), st.booleans()),
    st.builds(TankRead, st.floats(0, 600)),
    st.builds(
        BenchmarkReported,
        st.sampled_from(["dispatched", "on_scene", "water_on_fire", "under_control", "water_supply", "available"]),
        unit=st.sampled_from([None, *UNITS]),
        place=st.sampled_from([None, "second floor"]),
    ),
    st.builds(CrewEntered, st.sampled_from(UNITS), st.integers(1, 4), st.floats(1500, 4500)),
    st.builds(CrewLeft, st.sampled_from(UNITS), st.integers(1, 4)),
    st.builds(CrewComingOut, st.sampled_from(UNITS), st.booleans()),
    st.builds(ParRequested, st.just({"engine 12": 3, "engine 9": 4})),
    st.builds(ParAnswered, st.sampled_from(UNITS), st.integers(0, 4)),
    st.builds(MaydayDeclared, st.just("mayday")),
    st.just(MaydayCleared()),
    st.just(IncidentClosed()),
    st.builds(Retracted, st.lists(st.integers(1, 12), max_size=3).map(tuple), st.just("undo")),
)


@st.composite
def logs(draw: st.DrawFn) -> list[Event]:
    """An opened incident and whatever follows: things told late, undone, on two pumps."""
    log = [event(1, 0, IncidentOpened()), *(event(n, 0, PumpReady(u, 500, 450), u) for n, u in enumerate(UNITS, 2))]
    for body in draw(st.lists(bodies, max_size=14)):
        at_s = draw(st.integers(0, 900))
        log.append(event(len(log) + 1, at_s, body, draw(st.sampled_from(UNITS)), logged_s=900))
    return log


@given(logs())
def test_the_live_scene_is_the_folded_one(log: list[Event]) -> None:
    live = History()
    for one in log:
        live.add(one)
        assert live.scene == fold(live.events)


@given(logs())
def test_a_restart_anywhere_gives_the_same_scene(log: list[Event]) -> None:
    for cut in range(len(log) + 1):
        again = History(log[:cut])
        for one in log[cut:]:
            again.add(one)
        assert again.scene == fold(log)


@given(logs(), st.integers(0, 3600))
def test_a_tank_is_never_negative_and_never_above_what_can_be_used(log: list[Event], later_s: int) -> None:
    scene = fold(log)
    for pump in scene.pumps.values():
        assert 0 <= pump.tank_gal <= 450
        assert 0 <= pump.gallons_at(DAY + timedelta(seconds=later_s)) <= 450


@given(logs())
def test_taking_everything_back_leaves_an_incident_as_it_began(log: list[Event]) -> None:
    begun = fold(log[:3])
    undone = [*log, event(len(log) + 1, 900, Retracted(tuple(range(4, len(log) + 1)), "undo"))]
    scene = fold(undone)
    assert scene.pumps == begun.pumps
    assert (scene.stamps, scene.crews, scene.par, scene.mayday, scene.open) == ((), {}, None, None, True)


def test_told_late_it_counts_from_when_it_happened() -> None:
    log = History([event(1, 0, IncidentOpened()), event(2, 0, PumpReady("engine 12", 500, 500))])
    log.add(event(3, 120, LineOpened(line(2))))
    log.add(event(4, 60, LineOpened(line(1)), logged_s=180))
    assert log.scene.pump("engine 12").gallons_at(DAY + timedelta(seconds=120)) == 500 - 25 - 150 - 25


def test_a_correction_can_itself_be_taken_back() -> None:
    log = [
        event(1, 0, IncidentOpened()),
        event(2, 60, BenchmarkReported("water_on_fire")),
        event(3, 60, Retracted((2,), "correction")),
        event(4, 60, BenchmarkReported("knocked_down")),
        event(5, 90, Retracted((3, 4), "undo")),
    ]
    assert [stamp.benchmark for stamp in fold(log[:4]).stamps] == ["knocked_down"]
    assert [stamp.benchmark for stamp in fold(log).stamps] == ["water_on_fire"]
    assert [one.seq for one in effective(log)] == [1, 2, 5]


def test_an_empty_log_is_no_incident() -> None:
    assert fold([]) == Scene()
    assert not Scene().open


def test_fewer_out_than_in_leaves_the_rest_inside() -> None:
    scene = fold(
        [
            event(1, 0, IncidentOpened()),
            event(2, 60, CrewEntered("engine 9", 4, 4200)),
            event(3, 600, CrewLeft("engine 9", 3)),
        ]
    )
    assert [(crew.crew, crew.count) for crew in scene.crews_inside] == [("engine 9", 1)]


def test_asking_the_silent_again_keeps_the_other_answers() -> None:
    scene = fold(
        [
            event(1, 0, IncidentOpened()),
            event(2, 0, ParRequested({"engine 12": 3, "engine 9": 4})),
            event(3, 10, ParAnswered("engine 12", 3)),
            event(4, 120, ParRequested({"engine 9": 4})),
        ]
    )
    assert scene.par is not None
    assert [unit for unit, *_ in scene.par.expected] == ["engine 12", "engine 9"]
    assert [unit for unit, *_ in scene.par.answered] == ["engine 12"]
    assert scene.par.at == DAY + timedelta(seconds=120)
