"""Names of people in what a crew does: "Jones and Smith going in with 4200". They are kept as said.

The log goes by companies, so nobody is tracked by name: what is said is read without the names, and they stand beside
it. A word that may be a slip is a name only where it is written as one, or joined to one.
"""

from __future__ import annotations

import re
from collections.abc import Callable

from msgspec.structs import replace

from grammar.commands import Assign, Entry, Reading, Report
from grammar.costs import TAKE
from grammar.readers.lunar import is_name, is_no_word
from grammar.spelling import spellings
from grammar.text import Token, tokens
from grammar.vocabulary import Names

Read = Callable[[str], Reading]
_MOST = 6
"""Most people of one crew that are named."""
_SHORT = 3
"""A word of no more letters may be a slip in anything."""
_JOINS = frozenset(("and", ",", "/", "&", "+", "plus"))
_BEFORE = re.compile(r"(?:\b(?:with|fire ?fighters?|ffs?|lt|lieutenant|captain|probie)\.?[ ,]+)+$", re.IGNORECASE)


def keep_names(text: str, known: Names, read: Read) -> Reading | None:
    """The entry or assignment that the message is without the names in it; None where it is none for sure."""
    found = tokens(text)
    named = [k for k, token in enumerate(found) if _may_be_one(text, token, known)]
    if not named or len(named) > _MOST or not any(_is_one(text, found[k], known) for k in named):
        return None
    lo, hi = named[0], named[-1]
    if any(k not in named and found[k].text not in _JOINS for k in range(lo, hi + 1)):
        return None
    alone = len(named) == 1 and not _written_as_one(text, found[lo])
    follows = lo > 0 and (
        found[lo - 1].text.isdigit() or found[lo - 1].text == "," or _BEFORE.search(text[: found[lo].start])
    )
    if (alone and not follows) or (hi + 1 < len(found) and found[hi + 1].text[0].isdigit()):
        return None  # "rukc 4 is RIT", "crrwe going in": a slip in the company
    before, after = text[: found[lo].start], text[found[hi].end :]
    before = _BEFORE.sub("", before)
    for somebody in ("", "crew "):
        reading = read(f"{before}{somebody}{after.lstrip(' ,')}".strip())
        if reading.confidence >= TAKE and reading.commands and all(map(_of_people, reading.commands)):
            return _kept(text, reading, text[found[lo].start : found[hi].end], len(named))
    return None


def _may_be_one(text: str, token: Token, known: Names) -> bool:
    if not token.text.isalpha() or text[token.start : token.end].casefold() != token.text:
        return False  # its place isn't known where figures were turned
    return is_name(token.text, known) or (_written_as_one(text, token) and is_no_word(token.text))


def _is_one(text: str, token: Token, known: Names) -> bool:
    """Written as a name, or nothing that is spelled nearly so."""
    if _written_as_one(text, token):
        return True
    return len(token.text) > _SHORT and spellings(tokens(token.text), known, False)[0].words == (token.text,)


def _written_as_one(text: str, token: Token) -> bool:
    """With a capital, not at the beginning, in a message that isn't in capitals throughout."""
    return token.start > 0 and text[token.start : token.end].istitle() and not text.isupper()


def _of_people(command: object) -> bool:
    return isinstance(command, Entry | Assign)


def _kept(text: str, reading: Reading, names: str, count: int) -> Reading:
    """With the names as a note, and as many people as were named where no number was said."""
    first = reading.commands[0]
    counted = isinstance(first, Entry) and first.count is None
    commands = (replace(first, count=count), *reading.commands[1:]) if counted else reading.commands
    note = Report("note", names, first.unit if isinstance(first, Entry | Assign) else None)
    kept = (*reading.assumed, f"kept as said: “{names}”")
    return Reading(text, (*commands, note), reading.confidence, intent=first.intent, assumed=kept)
