"""The settings: environment variables, then `.env`, then `crosslay.toml`, in the working and the user's folder."""

from __future__ import annotations

import re
import tomllib
from datetime import tzinfo
from pathlib import Path
from typing import Annotated, Any, Literal
from zoneinfo import ZoneInfo, ZoneInfoNotFoundError

from platformdirs import PlatformDirs
from pydantic import AfterValidator, BeforeValidator, Field, ValidationError
from pydantic_settings import (
    BaseSettings,
    InitSettingsSource,
    NoDecode,
    PydanticBaseSettingsSource,
    SettingsConfigDict,
)

from bot.errors import SettingsError
from grammar.commands import Role

PREFIX = "CROSSLAY_"
DIRS = PlatformDirs("crosslay", appauthor=False)


def config_folders() -> tuple[Path, ...]:
    """Where settings are looked for; the first one wins."""
    return Path.cwd(), DIRS.user_config_path


def _ids(value: object) -> object:
    """Chat ids: comma-separated text, one number, or a list."""
    parts = value.split(",") if isinstance(value, str) else value if isinstance(value, list | tuple) else [value]
    return tuple(text for part in parts if (text := str(part).strip()))


def _zone(value: str) -> str:
    if value:
        try:
            ZoneInfo(value)
        except (ZoneInfoNotFoundError, ValueError, OSError):
            raise ValueError("there is no such time zone; write it like America/New_York") from None
    return value


def _secret(value: str) -> str:
    if value and re.fullmatch(r"[A-Za-z0-9_-]{16,256}", value) is None:
        raise ValueError("write 16 to 256 letters, digits, _ and -")
    return value


Ids = Annotated[tuple[str, ...], NoDecode, BeforeValidator(_ids)]
Text = Annotated[str, BeforeValidator(lambda value: str(value).strip())]


class Settings(BaseSettings):
    """Every setting; the environment's names are these with CROSSLAY_ before them."""

    model_config = SettingsConfigDict(env_prefix=PREFIX, extra="ignore", frozen=True)

    telegram_token: Text = ""
    telegram_api: Text = ""
    """Base address of a self-hosted Bot API server; "" = the public one."""
    telegram_webhook: Text = ""
    """The address at which the service finds us; "" = we ask it for news (polling)."""
    telegram_listen: Text = "127.0.0.1:8443"
    """Where the webhook is answered: what a reverse proxy hands on."""
    telegram_secret: Annotated[Text, AfterValidator(_secret)] = ""
    """What the service must show at the webhook; "" = a new one at each start."""
    page_listen: Text = ""
    """The one address of this machine at which the page is served ("192.168.4.1:8443"); "" = its own in its network;
    "off" = nowhere."""
    rooms: Ids = ()
    """Chats that are served."""
    crew_room: Text = ""
    """The chat that gets reminders and benchmarks."""
    officers: Ids = ()
    """People (by their number) who are the company's officer without being confirmed by another…"""
    drivers: Ids = ()
    """…and its driver."""
    database: Text = ""
    """An SQLAlchemy URL or the path of an SQLite file; "" = a file in the user's data folder."""
    rig: Text = ""
    """The company's rig file; "" = the demonstration rig."""
    learned_reader: bool = False
    """Whether the learned reader judges beside the rules (60 MB, some milliseconds); off: its gain isn't proven yet."""
    vosk_model: Text = ""
    keep_recordings: Text = ""
    """A folder for recordings that their speakers put right and agreed to have kept; "" = none is ever kept."""
    keep_days: Annotated[int, Field(ge=0, le=36_500)] = 0
    """Incidents are erased so many days after they closed; 0 = never."""
    voice: Literal["espeak", "piper"] = "espeak"
    """What answers are spoken with; piper is an extra, nicer and slower, and espeak stands in where it is missing."""
    timezone: Annotated[Text, AfterValidator(_zone)] = ""
    """"" = the system's."""

    @property
    def given_roles(self) -> dict[str, Role]:
        """The roles that people have by the settings."""
        drivers: dict[str, Role] = dict.fromkeys(self.drivers, "driver")
        return {**drivers, **dict.fromkeys(self.officers, "officer")}

    @property
    def tz(self) -> tzinfo:
        """The time zone that people are told times in."""
        if self.timezone:
            return ZoneInfo(self.timezone)
        from tzlocal import get_localzone

        return get_localzone()

    @property
    def database_url(self) -> str:
        """The store's address as SQLAlchemy's async URL."""
        if "://" not in self.database:
            path = Path(self.database).expanduser() if self.database else DIRS.user_data_path / "crosslay.sqlite"
            return f"sqlite:///{path.absolute()}"
        scheme, rest = self.database.split("://", 1)
        drivers = {"postgres": "postgresql+asyncpg", "postgresql": "postgresql+asyncpg"}
        return f"{drivers.get(scheme, scheme)}://{rest}"

    @classmethod
    def settings_customise_sources(
        cls,
        settings_cls: type[BaseSettings],
        init_settings: PydanticBaseSettingsSource,
        env_settings: PydanticBaseSettingsSource,
        dotenv_settings: PydanticBaseSettingsSource,
        file_secret_settings: PydanticBaseSettingsSource,
    ) -> tuple[PydanticBaseSettingsSource, ...]:
        files = [InitSettingsSource(settings_cls, _toml(folder / "crosslay.toml")) for folder in config_folders()]
        return init_settings, env_settings, dotenv_settings, *files


def _toml(path: Path) -> dict[str, Any]:
    """The settings of a crosslay.toml: the environment's names or the short ones, in any case."""
    try:
        table = tomllib.loads(path.read_text("utf-8"))
    except (FileNotFoundError, NotADirectoryError):
        return {}
    except (OSError, UnicodeDecodeError) as error:
        raise SettingsError(str(path), f"the file can't be read ({_reason(error)})") from None
    except tomllib.TOMLDecodeError as error:
        raise SettingsError(str(path), f"this isn't valid TOML: {error}") from None
    except RecursionError:
        raise SettingsError(str(path), "lists or tables lie too deep in each other") from None
    values = {key.lower().removeprefix(PREFIX.lower()): value for key, value in table.items()}
    for key in values.keys() - Settings.model_fields.keys():
        raise SettingsError(str(path), f"there is no setting named {key}; the settings are {', '.join(known_keys())}")
    return values


def _reason(error: Exception) -> str:
    return error.strerror or str(error) if isinstance(error, OSError) else "it isn't UTF-8 text"


def known_keys() -> tuple[str, ...]:
    """The settings by their environment names."""
    return tuple(PREFIX + key.upper() for key in Settings.model_fields)


def load(**given: Any) -> Settings:
    """The settings as they stand now; `given` ones (from the command line) win. Raises SettingsError."""
    env_files = tuple(folder / ".env" for folder in reversed(config_folders()))
    try:
        return Settings(**{"_env_file": env_files, "_env_file_encoding": "utf-8", **given})
    except ValidationError as error:
        first = error.errors()[0]
        problem = str(first["msg"]).removeprefix("Value error, ")
        raise SettingsError(PREFIX + str(first["loc"][0]).upper(), f"{problem}.") from None
    except UnicodeDecodeError:
        raise SettingsError(".env", "the file isn't UTF-8 text; save it as UTF-8.") from None
