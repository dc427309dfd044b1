"""What the program writes is its user's only, whatever the user's mask; what isn't is named."""

from __future__ import annotations

import io
import os
import stat
import subprocess
import sys
import tempfile
from pathlib import Path

import pytest

from bot.commands import check
from bot.program import logs
from bot.program.kept_recordings import Recordings
from bot.store import private

pytestmark = pytest.mark.skipif(os.name != "posix", reason="file modes are POSIX's")


def mode(path: Path) -> int:
    return stat.S_IMODE(path.stat().st_mode)


def everything(folder: Path) -> dict[str, int]:
    """Every file and folder below one, with its mode."""
    return {str(path.relative_to(folder)): mode(path) for path in folder.rglob("*")}


def crosslay(home: Path, *arguments: str, said: str = "") -> subprocess.CompletedProcess[str]:
    """The program by itself, with everything below one folder, under the mask that leaves all open."""
    env = {key: value for key, value in os.environ.items() if not key.startswith(("CROSSLAY", "XDG"))}
    env |= {f"XDG_{key}_HOME": str(home / key.lower()) for key in ("DATA", "CONFIG", "STATE", "CACHE")}
    command = [sys.executable, "-m", "bot", *arguments]
    old = os.umask(0)
    try:
        return subprocess.run(command, input=said, env=env, cwd=home, text=True, capture_output=True, timeout=120)
    finally:
        os.umask(old)


def test_all_that_a_run_leaves_is_its_users_only(tmp_path: Path) -> None:
    said = "engine 12 on scene\nsend the report\nofficer: command terminated\n"
    assert crosslay(tmp_path, said=said).returncode == 0
    assert crosslay(tmp_path, "backup", "copy.sqlite").returncode == 0
    assert crosslay(tmp_path, "report", "last", "--to", "record.json").returncode == 0
    restored = crosslay(tmp_path, "restore", "copy.sqlite")
    assert restored.returncode == 0, restored.stderr
    assert "The one that was there is kept as" in restored.stdout
    left = everything(tmp_path)
    endings = {Path(name).suffix for name in left}
    assert {".sqlite", ".pdf", ".log", ".json"} <= endings, left
    ours = {name: mode for name, mode in left.items() if "matplotlib" not in name and "fontconfig" not in name}
    assert {name: oct(mode) for name, mode in ours.items() if mode & 0o077} == {}


def test_a_record_that_was_open_to_others_is_closed(tmp_path: Path) -> None:
    assert crosslay(tmp_path, said="engine 12 on scene\n").returncode == 0
    record = tmp_path / "data" / "crosslay" / "crosslay.sqlite"
    record.chmod(0o644)
    assert crosslay(tmp_path, "incidents").stdout.startswith("20")
    assert mode(record) == 0o600


def test_kept_recordings_are_their_departments_only(tmp_path: Path) -> None:
    kept = Recordings(tmp_path / "kept")
    kept._note("kim", agreed=True)
    assert everything(tmp_path) == {"kept": 0o700, "kept/agreed.json": 0o600}


@pytest.mark.parametrize("name", [".env", "crosslay.toml"])
def test_check_names_settings_that_others_can_read(tmp_path: Path, monkeypatch: pytest.MonkeyPatch, name: str) -> None:
    monkeypatch.chdir(tmp_path)
    monkeypatch.setattr(check, "_findings", _settings_only)
    file = tmp_path / name
    file.write_text("")
    for others, named in ((0o644, True), (0o640, True), (0o600, False)):
        file.chmod(others)
        out = io.StringIO()
        check.report({"database": str(tmp_path / "none.sqlite")}, out)
        assert (f"{file} can be read by other users of this machine: chmod 600 {file}" in out.getvalue()) is named


def _settings_only(given: dict[str, str]):  # type: ignore[no-untyped-def]
    from bot import settings

    return check._open_files(settings.load(**given))


def test_a_new_file_never_takes_anothers_place(tmp_path: Path) -> None:
    private.new_file(tmp_path / "a")
    with pytest.raises(FileExistsError):
        private.new_file(tmp_path / "a")


def test_what_recognises_leaves_nothing_in_the_home_folder_and_reports_to_nobody(tmp_path: Path) -> None:
    code = "import bot; from bot.speech.recogniser import open_recogniser; open_recogniser().warm_up()"
    subprocess.run([sys.executable, "-c", code], env={**os.environ, "HOME": str(tmp_path)}, check=True)
    assert list(tmp_path.rglob("*")) == []


def test_a_log_that_has_no_place_is_in_a_folder_that_nobody_can_guess(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    (tmp_path / "state").touch()
    monkeypatch.setenv("XDG_STATE_HOME", str(tmp_path / "state"))  # no folder can be made below a file
    monkeypatch.setattr(tempfile, "tempdir", str(tmp_path))
    logs._folder_of_our_own.cache_clear()
    try:
        first = logs.log_file()
        assert logs.log_file() == first
        assert (first.parent.parent, oct(mode(first.parent))) == (tmp_path, "0o700")
        logs._folder_of_our_own.cache_clear()
        assert logs.log_file().parent != first.parent
    finally:
        logs._folder_of_our_own.cache_clear()
