"""What goes ahead of everything that waits: a Mayday, an evacuation, emergency traffic, loss of water."""

from __future__ import annotations

import logging

from bot.message.read import names_mayday, read
from grammar.commands import Command, Context, Emergency, Evacuate, Mayday, Reading, WaterSource

_OUT_OF_ANY = Context(addressed=True)
_LOG = logging.getLogger(__name__)


def is_alert(text: str) -> bool:
    """Whether words call an alert, by themselves: found without the record, so that nothing has to be waited for."""
    try:
        return calls_alert(read(text, _OUT_OF_ANY))
    except Exception:
        _LOG.exception("The reader failed while alerts were looked for")
        return names_mayday(text)


def calls_alert(reading: Reading) -> bool:
    """Whether a reading calls an alert, or asks whether one was called."""
    asked = (choice.commands for choice in reading.question.choices) if reading.question is not None else ()
    return any(_alerts(command) for commands in (reading.commands, *asked) for command in commands)


def _alerts(command: Command) -> bool:
    match command:
        case Mayday(cleared=over) | Evacuate(over=over) | Emergency(over=over):
            return not over
        case WaterSource(lost=lost, meant=meant):
            return lost and not meant
    return False
