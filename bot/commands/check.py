"""`crosslay check`: what is set up, what is missing and how to get it."""

from __future__ import annotations

import asyncio
import contextlib
from collections.abc import Callable, Iterator
from datetime import UTC, datetime
from pathlib import Path
from typing import Any, TextIO

import msgspec

from bot import rigs, settings
from bot.message.as_json import ANSWERED, FAULT
from bot.program.logs import log_file
from bot.settings import Settings
from bot.store import private
from bot.store.files import path_of
from handlers.errors import CrosslayError

WHAT_VOSK_ADDS = (
    "none named; a model of general English, trained on many voices, can listen in place of the built-in recogniser"
)
VOSK_MODEL = "vosk-model-small-en-us-0.15"
FETCH_VOSK = (
    f"python -c \"import vosk; vosk.Model(model_name='{VOSK_MODEL}')\" fetches one to ~/.cache/vosk/{VOSK_MODEL}, "
    "the folder for CROSSLAY_VOSK_MODEL"
)


class Finding(msgspec.Struct, frozen=True):
    """One thing looked at."""

    what: str
    ok: bool
    says: str
    needed: bool = False
    """Without it the main job can't run."""


def report(given: dict[str, str], out: TextIO) -> int:
    """Look at everything and print it; returns the exit status: a fault when the main job can't run."""
    findings = []
    for finding in _findings(given):
        mark = "ok     " if finding.ok else "MISSING" if finding.needed else "not set"
        print(f"{mark}  {finding.what}: {finding.says}", file=out)
        findings.append(finding)
    able = all(finding.ok for finding in findings if finding.needed)
    print("The main job can run." if able else "The main job can't run: see MISSING above.", file=out)
    return ANSWERED if able else FAULT


def _findings(given: dict[str, str]) -> Iterator[Finding]:
    try:
        known = settings.load(**given)
    except CrosslayError as error:
        yield Finding("settings", False, error.message, needed=True)
        return
    yield Finding("settings", True, _where_settings())
    yield from _open_files(known)
    looks: tuple[Callable[[Settings], Finding], ...] = (
        _rig,
        _calculation,
        _database,
        _clock,
        _ear,
        _vosk,
        _microphone,
        _speaking,
        _page,
        _telegram,
    )
    for look in looks:
        yield look(known)
    yield Finding("time zone", True, f"times are told in {known.tz}")
    yield Finding("log file", True, str(log_file()))


def _where_settings() -> str:
    files = [folder / name for folder in settings.config_folders() for name in ("crosslay.toml", ".env")]
    found = [str(file) for file in files if file.is_file()]
    return f"from {', '.join(found)} and the environment" if found else "from the environment; no crosslay.toml or .env"


def _open_files(known: Settings) -> Iterator[Finding]:
    """Files with the token or the record that other users of the machine can read."""
    files = [folder / name for folder in settings.config_folders() for name in (".env", "crosslay.toml")]
    with contextlib.suppress(CrosslayError):
        files.append(path_of(known.database_url))
    for file in files:
        if private.is_open_to_others(file):
            says = f"{file} can be read by other users of this machine: chmod 600 {file}"
            yield Finding("private files", False, says)


def _rig(known: Settings) -> Finding:
    try:
        own = rigs.load(known.rig).own
    except CrosslayError as error:
        return Finding("rig file", False, error.message, needed=True)
    if own.demonstration:
        says = f"the demonstration rig ({own.department}, {own.name}); name your own with CROSSLAY_RIG or --rig FILE"
        return Finding("rig file", not known.rig, says)
    says = f"{own.department}, {own.name} ({known.rig})"
    doubtful = _doubts(known.rig)
    return Finding("rig file", True, "; check ".join((says, *doubtful)), needed=True)


def _doubts(rig: str) -> tuple[str, ...]:
    """What can hardly be meant in the rig file, or in those of a folder."""
    named = Path(rig).expanduser()
    several = sorted(named.glob("*.toml")) if named.is_dir() else [named]
    return tuple(doubt for file in several for doubt in rigs.doubts_in(file))


def _calculation(known: Settings) -> Finding:
    """One lay through grammar and hydraulics, as a person would ask it."""
    from bot.api import Crosslay

    words = "200 feet of 1.75 flowing 150"
    try:
        handled = Crosslay.of(known).answer(words)
    except CrosslayError as error:
        return Finding("calculation", False, error.message, needed=True)
    right = handled.intent == "pump_pressure" and handled.status == "answered"
    return Finding("calculation", right, f"“{words}” gives “{handled.reply.splitlines()[0]}”", needed=True)


def _database(known: Settings) -> Finding:
    from bot.store import inbox, outgoing
    from bot.store.database import Store

    async def look() -> tuple[int, int]:
        store = await Store.open(known.database_url)
        try:
            async with store.begin() as tx:
                return (await inbox.set_aside(tx))[0], (await outgoing.not_shown(tx))[0]
        finally:
            await store.close()

    try:
        aside, unshown = asyncio.run(look())
    except CrosslayError as error:
        return Finding("record", False, error.message, needed=True)
    says = f"can be written ({known.database_url.rpartition('@')[2]})"
    if aside or unshown:
        says += f"; {aside} message(s) set aside with an error, {unshown} not shown: check --live names the newest"
    return Finding("record", True, says, needed=True)


def _clock(known: Settings) -> Finding:
    """What can be said of the machine's clock without a service: it isn't before what was written down last."""
    from bot.program.housekeeping import behind
    from bot.store import vitals
    from bot.store.database import Store

    async def look() -> datetime | None:
        store = await Store.open(known.database_url)
        try:
            async with store.begin() as tx:
                return await vitals.newest(tx)
        finally:
            await store.close()

    try:
        slow = behind(asyncio.run(look()), datetime.now(UTC), known.tz)
    except CrosslayError:
        slow = None  # said of the record already
    now = datetime.now(known.tz)
    return Finding("clock", slow is None, slow or f"{now:%Y-%m-%d %H:%M:%S} here; compare it with a watch")


def _ear(known: Settings) -> Finding:
    """The built-in recogniser: loaded once, as for a first voice message."""
    from bot.message.recording import Listener

    if known.vosk_model:
        return Finding("voice messages", True, "Vosk is to listen instead of the built-in recogniser: see below")
    try:
        Listener().recogniser.warm_up()
    except (CrosslayError, ImportError) as error:
        return Finding("voice messages", False, getattr(error, "message", f"install the Python package {error}"))
    return Finding("voice messages", True, "the built-in recogniser is ready, offline")


def _vosk(known: Settings) -> Finding:
    """The second recogniser: what a model would add, and how to get one; nothing is fetched unasked."""
    if not known.vosk_model:
        return Finding("Vosk model", False, f"{WHAT_VOSK_ADDS}. On a machine with internet {FETCH_VOSK}")
    from bot.message.recording import Listener

    try:
        Listener(vosk_model=known.vosk_model).recogniser.warm_up()
    except (CrosslayError, ImportError) as error:
        told = getattr(error, "message", f"install the Python package {error}")
        return Finding("Vosk model", False, f"{told.rstrip('.')}. On a machine with internet {FETCH_VOSK}")
    return Finding("Vosk model", True, f"ready ({known.vosk_model})")


def _microphone(_known: Settings) -> Finding:
    sounddevice, missing = _sound_system()
    if sounddevice is None:
        return Finding("microphone", False, f"{missing} to use crosslay listen; --from FILE works without")
    inputs = [device for device in sounddevice.query_devices() if device["max_input_channels"] > 0]
    return Finding("microphone", bool(inputs), "found" if inputs else "none is connected")


def _speaking(known: Settings) -> Finding:
    from bot.speech.voice import PiperVoice, open_voice

    try:
        voice = open_voice(known.voice == "piper")
        voice.speak("ready")
    except (CrosslayError, ImportError) as error:
        return Finding("speaking", False, getattr(error, "message", f"install the Python package {error}"))
    name = "piper" if isinstance(voice, PiperVoice) else "espeak-ng"
    if known.voice == "piper" and name != "piper":
        return Finding("speaking", False, "espeak-ng stands in for piper: install it (pip install 'crosslay[voice]')")
    sounddevice, missing = _sound_system()
    outputs = sounddevice and [device for device in sounddevice.query_devices() if device["max_output_channels"] > 0]
    if outputs:
        return Finding("speaking", True, f"{name} is ready, and there is a loudspeaker")
    why = f"to speak at the panel: {missing}" if missing else "no loudspeaker is connected"
    return Finding("speaking", True, f"{name} is ready for spoken messages; {why}")


def _sound_system() -> tuple[Any, str]:
    """sounddevice, or None and what to install."""
    try:
        import sounddevice
    except ImportError:
        return None, "install the Python package sounddevice (pip install 'crosslay[listen]')"
    except OSError:
        return None, "install the system package PortAudio (Debian and Ubuntu: apt install libportaudio2)"
    return sounddevice, ""


def _page(known: Settings) -> Finding:
    """Where the page would be served, and that its keys can be kept."""
    from bot.rooms.page.address import SETTING, chosen
    from bot.rooms.page.certificate import certificate
    from bot.settings import DIRS

    try:
        at = chosen(known.page_listen)
        if at is None:
            return Finding("page", False, f"{SETTING} says “off”: name an address of this machine to serve it")
        made = certificate(DIRS.user_data_path / "page", at.host)
    except CrosslayError as error:
        return Finding("page", False, error.message)
    only = "; this machine alone reaches it" if at.is_here else ""
    return Finding("page", True, f"crosslay page serves it at {at.url}{only}; certificate {made.fingerprint}")


def _telegram(known: Settings) -> Finding:
    if not known.telegram_token:
        return Finding("Telegram", False, "set CROSSLAY_TELEGRAM_TOKEN to the token of your bot to serve chats")
    if not known.rooms:
        says = "set CROSSLAY_ROOMS to the numbers of the chats to serve; write to the bot there, it tells the number"
        return Finding("Telegram", False, says)
    from bot.rooms.telegram.setup import look

    ok, says = asyncio.run(look(known))
    crew = "" if known.crew_room else "; set CROSSLAY_CREW_ROOM to the crew's chat"
    return Finding("Telegram", ok, says + crew)
