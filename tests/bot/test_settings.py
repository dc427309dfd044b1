"""Settings: where they come from, which wins, and what is said of wrong ones."""

from __future__ import annotations

from pathlib import Path

import pytest

from bot import settings
from bot.errors import SettingsError


@pytest.fixture(autouse=True)
def _empty_home(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    """A working folder and a configuration folder with nothing in them."""
    (tmp_path / "work").mkdir()
    (tmp_path / "config" / "crosslay").mkdir(parents=True)
    monkeypatch.chdir(tmp_path / "work")
    monkeypatch.setenv("XDG_CONFIG_HOME", str(tmp_path / "config"))
    monkeypatch.setenv("XDG_DATA_HOME", str(tmp_path / "data"))
    for key in settings.known_keys():
        monkeypatch.delenv(key, raising=False)


def test_without_any_setting_there_is_a_file_in_the_users_data_folder(tmp_path: Path) -> None:
    assert settings.load().database_url == f"sqlite:///{tmp_path}/data/crosslay/crosslay.sqlite"


def test_the_environment_wins_over_env_file_over_toml_over_the_users_folder(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    (tmp_path / "config/crosslay/crosslay.toml").write_text('rig = "a"\ncrew_room = "b"\nrooms = "1"\ntimezone = "UTC"')
    (tmp_path / "work/crosslay.toml").write_text('CROSSLAY_CREW_ROOM = "c"\nCROSSLAY_ROOMS = "2"\ntimezone = "UTC"')
    (tmp_path / "work/.env").write_text("CROSSLAY_ROOMS=3\nCROSSLAY_TIMEZONE=Europe/Berlin\nOTHER=1\n")
    monkeypatch.setenv("CROSSLAY_TIMEZONE", "America/New_York")
    got = settings.load()
    assert (got.rig, got.crew_room, got.rooms, got.timezone) == ("a", "c", ("3",), "America/New_York")


def test_what_the_command_line_gives_wins(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setenv("CROSSLAY_RIG", "a.toml")
    assert settings.load(rig="b.toml").rig == "b.toml"


@pytest.mark.parametrize("written", ["-100123, 42", "[-100123, 42]"])
def test_rooms_are_a_list_of_chat_ids(tmp_path: Path, monkeypatch: pytest.MonkeyPatch, written: str) -> None:
    if written.startswith("["):
        (tmp_path / "work/crosslay.toml").write_text(f"rooms = {written}")
    else:
        monkeypatch.setenv("CROSSLAY_ROOMS", written)
    assert settings.load().rooms == ("-100123", "42")


@pytest.mark.parametrize(
    ("given", "url"),
    [
        ("fire.sqlite", "sqlite:///{work}/fire.sqlite"),
        ("sqlite:///fire.sqlite", "sqlite:///fire.sqlite"),
        ("postgresql://desk@db/fire", "postgresql+asyncpg://desk@db/fire"),
    ],
)
def test_the_database_is_a_file_or_a_url(tmp_path: Path, monkeypatch: pytest.MonkeyPatch, given: str, url: str) -> None:
    monkeypatch.setenv("CROSSLAY_DATABASE", given)
    assert settings.load().database_url == url.format(work=tmp_path / "work")


@pytest.mark.parametrize(
    ("toml", "says"),
    [
        ('timezone = "Mars/Olympus"', "CROSSLAY_TIMEZONE: there is no such time zone"),
        ("rig = ", "this isn't valid TOML"),
        ('telegram_tokken = "1"', "there is no setting named telegram_tokken"),
        ("rooms = " + "[" * 5000, "lists or tables lie too deep"),
        ("keep_days = 99999999999", "CROSSLAY_KEEP_DAYS"),
    ],
)
def test_a_wrong_setting_is_one_sentence_that_names_it(tmp_path: Path, toml: str, says: str) -> None:
    (tmp_path / "work/crosslay.toml").write_text(toml)
    with pytest.raises(SettingsError, match=says) as caught:
        settings.load()
    assert "\n" not in caught.value.message
