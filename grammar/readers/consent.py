"""Reads whether somebody's recordings may be kept."""

from __future__ import annotations

import re

from grammar.commands import Context, KeepRecordings, Reading

_KEEP = re.compile(
    r"\W*(?P<no>do not|don'?t|stop|no longer|you may not|never)?\W*(?:(?:yes\W+)?you (?:may|can) )?"
    r"(?:keep|keeping) my (?:recordings|voice messages|voice)\W*",
    re.IGNORECASE,
)


def read_consent(text: str, context: Context) -> Reading | None:
    """ "You may keep my recordings", "don't keep my recordings"."""
    found = _KEEP.fullmatch(text.replace("’", "'"))
    if found is None:
        return None
    return Reading(text, (KeepRecordings(agree=found["no"] is None),), 0.97, intent=KeepRecordings.intent)
