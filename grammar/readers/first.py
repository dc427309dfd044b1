"""Reads what comes before everything else, in order: "dispatch:", Mayday, the answer to what was asked."""

from __future__ import annotations

from grammar.commands import Context, Reading
from grammar.readers.answers import read_answer, read_check
from grammar.readers.dispatch import read_dispatch
from grammar.readers.joining import read_join_code
from grammar.readers.mayday import read_mayday
from grammar.vocabulary import names


def first_of_all(text: str, context: Context) -> Reading | None:
    """Mayday before anything, then "dispatch:", then the answer to what was asked."""
    known = names(context)
    dispatch = read_dispatch(text, context, known)
    if dispatch is not None:
        return dispatch
    joining = read_join_code(text, context)
    if joining is not None:
        return joining
    return read_mayday(text, context, known) or read_check(text, context) or read_answer(text, context, known)
