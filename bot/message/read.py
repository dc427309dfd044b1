"""Words to a reading, with a net under it: a fault of the reader loses no Mayday."""

from __future__ import annotations

import logging
import re

from grammar import reader
from grammar.commands import Context, Mayday, Reading

_MAYDAY = re.compile(r"\bmay[\s-]?day\b", re.IGNORECASE)
_LOG = logging.getLogger(__name__)


def names_mayday(text: str) -> bool:
    """Whether the word itself is there, whatever else is."""
    return _MAYDAY.search(text) is not None


def read(text: str, context: Context) -> Reading:
    """What the words mean in this context.

    Where the reader itself fails, the fault is logged: words with “mayday” in them are handed on as one, unread;
    for any others the fault goes on to the caller.
    """
    try:
        return reader.read(text, context)
    except Exception:
        if not names_mayday(text):
            raise
        _LOG.exception("The reader failed on a Mayday: it is handed on unread")
        return Reading(text=text, commands=(Mayday(text=text),), confidence=1.0, intent=Mayday.intent)
