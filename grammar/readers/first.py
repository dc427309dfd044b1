"""Reads what comes before everything else, in order: "dispatch:", Mayday, the answer to what was asked."""

from __future__ import annotations

from msgspec.structs import replace

from grammar.commands import Context, Emergency, Evacuate, Mayday, Reading
from grammar.readers.answers import read_answer
from grammar.readers.check import read_check
from grammar.readers.dispatch import read_dispatch
from grammar.readers.joining import read_join_code
from grammar.readers.mayday import read_mayday
from grammar.readers.orders_out import order_out
from grammar.readers.trouble import read_trouble
from grammar.vocabulary import Names, names


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
    if mayday is not None:
        return _with_order_out(mayday, text, context, known)
    return read_check(text, context) or read_answer(text, context, known)


def _with_order_out(mayday: Reading, text: str, context: Context, known: Names) -> Reading:
    """A Mayday, or trouble that is asked about, in which everybody is ordered out: nothing waits for the answer."""
    order = order_out(text, context, known)
    if order is None or order.units or any(isinstance(c, Mayday) and c.cleared for c in mayday.commands):
        return mayday
    given = Evacuate(order.place, text=order.before.strip(" ,.;:") or None)
    if mayday.intent in (Mayday.intent, Emergency.intent) and mayday.commands:
        return replace(mayday, commands=(*mayday.commands, given))
    offered = mayday.question.choices[0].commands if mayday.question is not None else ()
    parts = next((command for command in offered if isinstance(command, Mayday)), None)
    if parts is None:
        return mayday
    told = Emergency("missing_member", parts.unit, text.strip(), parts=parts)
    return Reading(text, (given, told), 0.9, intent=given.intent)


def _relayed(dispatch: Reading, mayday: Reading | None) -> Reading:
    """A dispatch in which a Mayday is called stays one, and the Mayday is taken too."""
    called = tuple(c for c in mayday.commands if isinstance(c, Mayday) and not c.cleared) if mayday is not None else ()
    return replace(dispatch, commands=(*dispatch.commands, *called)) if called else dispatch
