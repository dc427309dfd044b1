"""`crosslay hear`: recorded voice messages, recognised offline, then answered as typed ones."""

from __future__ import annotations

import sys
from collections.abc import Sequence
from pathlib import Path
from typing import TextIO

from bot import second_reader
from bot.api import Crosslay
from bot.message.as_json import FAULT, as_line, as_object, exit_status
from bot.message.recording import Listened, Listener
from bot.message.reply import Handled, answer_reading, printed
from bot.settings import Settings
from handlers.errors import CrosslayError
from handlers.history import History


def hear_files(settings: Settings, files: Sequence[str], *, as_json: bool, out: TextIO) -> int:
    """Answer each file; returns 1 if any file faulted, else the worst exit status."""
    second_reader.load(settings)
    asker = Crosslay.of(settings)
    listener = Listener(vosk_model=settings.vosk_model)
    worst = 0
    for file in files:
        try:
            listened = listener.hear_now(Path(file), asker.rig, asker.context)
        except CrosslayError as error:
            print(f"{file}: {error.message.removeprefix(f'{file}: ')}", file=sys.stderr)
            worst = FAULT
            continue
        handled = answer_reading(listened.reading, History(), asker.rig, asker.said(), heard=listened.line)
        print(_object(file, listened, handled) if as_json else _text(file, handled, len(files)), file=out, flush=True)
        worst = worst if worst == FAULT else max(worst, exit_status(handled))
    return worst


def _object(file: str, listened: Listened, handled: Handled) -> str:
    return as_line({**as_object(handled), "file": file, "heard": listened.heard, "engine": listened.engine})


def _text(file: str, handled: Handled, count: int) -> str:
    shown = printed(handled)
    return f"{file}:\n{shown}\n" if count > 1 else shown
