"""The real program, killed and started again: it goes on where it was, with nothing lost and nothing doubled."""

from __future__ import annotations

import os
import signal
import sqlite3
import subprocess
import sys
import time
from collections import Counter
from collections.abc import Iterator
from contextlib import closing, contextmanager
from pathlib import Path

import pytest

import bot.rigs

PATIENCE_S = 20.0
AGAIN = "(sent again: it may be here already) "
DEMONSTRATION = Path(bot.rigs.__file__).with_name(bot.rigs.DEMONSTRATION)


class Program:
    """The local room fed through a pipe."""

    def __init__(self, folder: Path, rig: Path | None = None) -> None:
        self.record = folder / "record.sqlite"
        self._environment = {
            **os.environ,
            "CROSSLAY_DATABASE": str(self.record),
            "CROSSLAY_RIG": str(rig or ""),
            "CROSSLAY_TIMEZONE": "UTC",
            "XDG_STATE_HOME": str(folder),
        }

    @contextmanager
    def running(self) -> Iterator[subprocess.Popen[str]]:
        """One life; whatever still runs at the end is killed."""
        command = [sys.executable, "-m", "bot"]
        pipe = subprocess.PIPE
        with subprocess.Popen(
            command, stdin=pipe, stdout=pipe, stderr=pipe, text=True, env=self._environment
        ) as program:
            try:
                yield program
            finally:
                program.kill()

    def rows(self, query: str) -> list[tuple[object, ...]]:
        """What the record says."""
        with closing(sqlite3.connect(f"file:{self.record}?mode=ro", uri=True)) as connection:
            return connection.execute(query).fetchall()

    def wait_for(self, query: str, least: int) -> None:
        """Until a count has come to so much."""
        end = time.monotonic() + PATIENCE_S
        while time.monotonic() < end:
            try:
                if int(str(self.rows(query)[0][0])) >= least:
                    return
            except sqlite3.OperationalError:
                pass  # not made yet
            time.sleep(0.02)
        pytest.fail(f"{query} never came to {least}")


def say(program: subprocess.Popen[str], *lines: str) -> None:
    assert program.stdin is not None
    program.stdin.write("".join(f"{line}\n" for line in lines))
    program.stdin.flush()


def finish(program: subprocess.Popen[str]) -> str:
    """Let it read to its end; gives what it still said."""
    out, err = program.communicate(timeout=PATIENCE_S)
    doubts = [line for line in err.splitlines() if not line.startswith("Check the rig file:")]  # its quick intervals
    assert (program.returncode, doubts) == (0, [])
    return out


def quick_rig(folder: Path) -> Path:
    """The demonstration rig, with an elapsed notice every second."""
    rig = folder / "quick.toml"
    intervals = "\n[intervals]\nelapsed_min = 0.01666666666\nquiet_gap_s = 0\n"
    rig.write_text(DEMONSTRATION.read_text("utf-8") + intervals, "utf-8")
    return rig


def test_killed_again_and_again_it_loses_and_doubles_nothing(tmp_path: Path) -> None:
    room = Program(tmp_path)
    shown = ""
    for life in range(5):
        with room.running() as program:
            say(program, *(f"tank time at {100 + 10 * life + n} gpm" for n in range(8)))
            assert program.stdout is not None
            for _ in range(life * 3):  # it dies after more and more of it
                shown += program.stdout.readline()
            program.kill()
            shown += program.stdout.read()
    with room.running() as program:
        shown += finish(program)

    assert room.rows("SELECT count(*) FROM inbox WHERE done_at IS NULL") == [(0,)]
    assert room.rows("SELECT count(*) FROM inbox WHERE fault IS NOT NULL") == [(0,)]
    replies = Counter(text for (text,) in room.rows("SELECT text FROM outbox WHERE state = 'sent'"))
    asked = [body for (body,) in room.rows("SELECT body FROM inbox")]
    assert replies.total() == len(asked)
    assert max(replies.values()) == 1
    assert room.rows("SELECT count(*) FROM outbox WHERE state != 'sent'") == [(0,)]
    for text in replies:
        assert shown.count(text) - shown.count(AGAIN + text) <= 1, f"doubled unmarked: {text}"
        assert text in shown, f"lost: {text}"


def test_the_scene_goes_on_where_it_was(tmp_path: Path) -> None:
    room = Program(tmp_path)
    with room.running() as program:
        say(program, "officer: engine 12 on scene", "charge crosslay 1")
        room.wait_for("SELECT count(*) FROM outbox WHERE state = 'sent'", 2)
        program.kill()
    with room.running() as program:
        say(program, "shut down crosslay 1")
        assert "Crosslay 1 shut" in finish(program)
    seqs = [seq for (seq,) in room.rows("SELECT seq FROM events WHERE incident LIKE '20%' ORDER BY seq")]
    assert seqs == list(range(1, len(seqs) + 1))


def test_reminders_go_on_after_a_kill_each_told_once(tmp_path: Path) -> None:
    room = Program(tmp_path, quick_rig(tmp_path))
    told = "SELECT count(*) FROM reminders WHERE name = 'elapsed' AND sent_at IS NOT NULL"
    with room.running() as program:
        say(program, "officer: engine 12 on scene")
        room.wait_for(told, 1)
        program.kill()
    with room.running() as program:
        room.wait_for(told, 3)
        program.kill()
    with room.running() as program:
        room.wait_for(told, 4)
        out = finish(program)
    keys = [key for (key,) in room.rows("SELECT key FROM reminders WHERE name = 'elapsed' AND sent_at IS NOT NULL")]
    assert len(keys) == len(set(keys)) >= 4
    due = room.rows("SELECT due_at FROM reminders WHERE name = 'elapsed' AND sent_at IS NOT NULL ORDER BY due_at")
    assert len(due) == len(set(due))
    assert "REMINDER" in out


def test_a_reminder_that_fell_due_while_it_was_down_is_told_late(tmp_path: Path) -> None:
    room = Program(tmp_path, quick_rig(tmp_path))
    with room.running() as program:
        say(program, "officer: engine 12 on scene")
        room.wait_for("SELECT count(*) FROM outbox WHERE state = 'sent'", 1)
        program.kill()
    with closing(sqlite3.connect(room.record)) as connection:  # as if it had been down for a while
        earliest = "SELECT key FROM reminders WHERE sent_at IS NULL ORDER BY due_at LIMIT 1"
        moved = f"UPDATE reminders SET due_at = '2020-01-01 10:00:00', owed_at = due_at WHERE key = ({earliest})"
        connection.execute(moved)
        connection.commit()
    with room.running() as program:
        room.wait_for("SELECT count(*) FROM outbox WHERE kind = 'reminder' AND state = 'sent'", 1)
        told = finish(program)
    assert "(late: due " in told
    assert "10:00:00" in told  # by itself, or in one message with what has fallen due while it started


def test_interrupted_it_ends_at_once_without_a_word(tmp_path: Path) -> None:
    room = Program(tmp_path)
    with room.running() as program:
        say(program, "crosslay 1")
        room.wait_for("SELECT count(*) FROM outbox WHERE state = 'sent'", 1)
        program.send_signal(signal.SIGINT)
        assert program.wait(PATIENCE_S) == 130
        assert program.stderr is not None
        assert program.stderr.read() == ""


def test_a_last_line_without_an_end_is_taken_too(tmp_path: Path) -> None:
    with Program(tmp_path).running() as program:
        out, err = program.communicate("crosslay 1\nrear line", timeout=PATIENCE_S)
    assert err == ""
    assert "170 psi, 150 gpm" in out
    assert "85 psi, 266 gpm" in out


def test_it_takes_a_message_a_line_and_ends_at_its_end(tmp_path: Path) -> None:
    with Program(tmp_path).running() as program:
        say(program, "crosslay 1", "", "engine 9: on scene with four", "purple monkey dishwasher")
        out = finish(program)
    assert out.startswith("170 psi, 150 gpm")
    assert "Not understood" in out


def test_a_second_program_on_one_record_says_that_one_is_running_and_stops(tmp_path: Path) -> None:
    room = Program(tmp_path)
    with room.running() as one:
        say(one, "officer: engine 12 on scene")
        room.wait_for("SELECT count(*) FROM outbox WHERE state = 'sent'", 1)
        with room.running() as two:
            _, err = two.communicate("rear line\n", timeout=PATIENCE_S)
            assert two.returncode == 1
            assert err.startswith("Crosslay is running on the record")
            assert err.count("\n") == 1
        one.kill()
    with room.running() as three:
        say(three, "rear line")
        assert "85 psi, 266 gpm" in finish(three)
