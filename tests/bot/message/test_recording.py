"""From what was heard to what may be done with it: answered, asked about, declined; a Mayday is never dropped."""

from __future__ import annotations

import json
from pathlib import Path

import pytest

from bot import cli, rigs
from bot.message import Message
from bot.message.context import build
from bot.message.recording import Listener, as_reading
from bot.rooms.scripted import ScriptedRoom
from bot.speech.hearing import Decision, Heard, HeardGuess
from bot.speech.voice import open_voice
from grammar.commands import Context, Mayday, PumpPressure
from handlers.scene import Scene
from tests.bot.conftest import NOON

RIG = rigs.load().own
CONTEXT: Context = build(RIG, "engine 12", Scene(), addressed=True)
UNCLEAR = "That wasn't clear enough to be sure."


def heard(decision: Decision, *words: str, confidence: float = 0.9) -> Heard:
    guesses = tuple(HeardGuess(guess, -float(n), "grammar") for n, guess in enumerate(words))
    return Heard(words[0] if words else "", guesses, confidence, decision, UNCLEAR, "ear")


def test_what_is_clear_is_taken_with_the_recognisers_doubt_in_it() -> None:
    reading = as_reading(heard(Decision.ANSWER, "crosslay one", confidence=0.8), CONTEXT)
    assert isinstance(reading.commands[0], PumpPressure)
    assert 0 < reading.confidence <= 0.8


def test_what_is_doubtful_is_asked_about() -> None:
    reading = as_reading(heard(Decision.ASK, "crosslay one"), CONTEXT)
    assert reading.commands == ()
    assert reading.question is not None
    assert reading.question.text == "Did you say “crosslay one”?"
    yes, no = reading.question.choices
    assert isinstance(yes.commands[0], PumpPressure)
    assert (yes.label, no.label, no.commands) == ("Yes", "No", ())


def test_two_likely_guesses_are_both_offered() -> None:
    reading = as_reading(heard(Decision.ASK, "crosslay one", "crosslay two", "rear line"), CONTEXT)
    assert reading.question is not None
    assert [choice.label for choice in reading.question.choices] == ["crosslay one", "crosslay two", "Neither"]


def test_guesses_that_mean_the_same_are_one() -> None:
    reading = as_reading(heard(Decision.ASK, "crosslay one", "crosslay 1"), CONTEXT)
    assert reading.question is not None
    assert [choice.label for choice in reading.question.choices] == ["Yes", "No"]


@pytest.mark.parametrize(
    "what", [heard(Decision.DECLINE, "crosslay one"), heard(Decision.DECLINE), heard(Decision.ASK, "purple monkey")]
)
def test_what_cant_be_told_is_declined_with_the_reason(what: Heard) -> None:
    reading = as_reading(what, CONTEXT)
    assert (reading.commands, reading.question, reading.declined) == ((), None, UNCLEAR)


@pytest.mark.parametrize("decision", [Decision.ASK, Decision.DECLINE])
def test_a_doubtful_mayday_is_asked_about_at_once(decision: Decision) -> None:
    reading = as_reading(heard(decision, "pull the maid a", "mayday mayday mayday"), CONTEXT)
    assert reading.question is not None
    assert isinstance(reading.question.choices[0].commands[0], Mayday)


# --- with real recordings


@pytest.fixture(scope="module")
def recording() -> bytes:
    """ "Crosslay one", as a telephone records it."""
    return open_voice().speak("two lines, two hundred feet, inch and three quarter, second floor").as_voice_message()


async def test_a_recording_is_fetched_and_heard(recording: bytes) -> None:
    room = ScriptedRoom("yard")
    room.recordings["f1"] = recording
    listened = await Listener([room]).hear(Message("yard:1", "1", "kim", NOON, voice_ref="f1"), RIG, CONTEXT)
    assert listened.line == "Heard: two lines two hundred feet inch and three quarter second floor"
    assert isinstance(listened.reading.commands[0], PumpPressure)


@pytest.mark.parametrize(("ref", "says"), [("gone", "there is no such recording"), ("text", "isn't a recording")])
async def test_a_recording_that_cant_be_had_or_heard_is_one_sentence(ref: str, says: str) -> None:
    room = ScriptedRoom("yard")
    room.recordings["text"] = b"this is a letter " * 40
    listened = await Listener([room]).hear(Message("yard:1", "1", "kim", NOON, voice_ref=ref), RIG, CONTEXT)
    assert listened.reading.declined is not None
    assert says in listened.reading.declined


def test_hear_answers_a_file_and_adds_what_it_heard(
    capsys: pytest.CaptureFixture[str], tmp_path: Path, recording: bytes
) -> None:
    (tmp_path / "a.ogg").write_bytes(recording)
    assert cli.run(["hear", "--json", str(tmp_path / "a.ogg")]) == 0
    got = json.loads(capsys.readouterr().out)
    assert list(got)[-4:] == ["reply", "file", "heard", "engine"]
    assert got["text"] == got["heard"] == "two lines two hundred feet inch and three quarter second floor"
    assert got["answer"]["pump_pressure_psi"] == pytest.approx(174.75)
    assert got["reply"].startswith("Heard: two lines")
    assert got["engine"] == "ear"


def test_hear_goes_on_after_a_file_that_faults_and_exits_1(
    capsys: pytest.CaptureFixture[str], tmp_path: Path, recording: bytes
) -> None:
    (tmp_path / "good.ogg").write_bytes(recording)
    (tmp_path / "empty.ogg").write_bytes(b"")
    files = [str(tmp_path / name) for name in ("none.ogg", "empty.ogg", "good.ogg")]
    assert cli.run(["hear", "--json", *files]) == 1
    out, err = capsys.readouterr()
    assert len(out.splitlines()) == 1
    assert len(err.splitlines()) == 2
    assert "none.ogg: there is no such file" in err


@pytest.mark.parametrize("decision", list(Decision))
@pytest.mark.parametrize(
    ("best", "freely"),
    [
        ("i lost my prime", "i lost my partner"),
        ("we are out", "we are out of air"),
        ("crosslay one", "he is not answering the radio"),
    ],
)
def test_trouble_that_was_freely_heard_is_asked_about_whatever_seems_likelier(
    decision: Decision, best: str, freely: str
) -> None:
    both = (HeardGuess(best, -1.0, "grammar"), HeardGuess(freely, -2.0, "free"))
    reading = as_reading(Heard(best, both, 0.95, decision, UNCLEAR, "ear"), CONTEXT)
    assert reading.commands == ()
    assert reading.question is not None
    assert "Mayday" in reading.question.text
