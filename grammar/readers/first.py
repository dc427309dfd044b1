"""Reads what comes before everything else, in order: "dispatch:", Mayday, the answer to what was asked."""

from __future__ import annotations

from msgspec.structs import replace

from grammar.commands import Context, Mayday, Reading
from grammar.readers.answers import read_answer
from grammar.readers.check import read_check
from grammar.readers.dispatch import read_dispatch
from grammar.readers.joining import read_join_code
from grammar.readers.mayday import read_mayday
from grammar.readers.trouble import read_trouble
from grammar.vocabulary import names


def first_of_all(text: str, context: Context) -> Reading | None:
    """Mayday before anything, then "dispatch:", then the answer to what was asked."""
    known = names(context)
    dispatch = read_dispatch(text, context, known)
    if dispatch is not None:
        return _relayed(dispatch, read_mayday(text, context, known))
    joining = read_join_code(text, context)
    if joining is not None:
        return joining
    mayday = read_mayday(text, context, known) or read_trouble(text, context, known)
    return mayday or read_check(text, context) or read_answer(text, context, known)


def _relayed(dispatch: Reading, mayday: Reading | None) -> Reading:
    """A dispatch in which a Mayday is called stays one, and the Mayday is taken too."""
    called = tuple(c for c in mayday.commands if isinstance(c, Mayday) and not c.cleared) if mayday is not None else ()
    return replace(dispatch, commands=(*dispatch.commands, *called)) if called else dispatch
