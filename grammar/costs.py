"""The named costs of a reading, from certain to absurd: no other file types a cost as a number.

Confidence falls with e^-cost: a reading is taken without a question while its costs stay below about 0.2 (see
grammar/verdict.py), so that one thing `UNSURE` or worse asks, and two that are `LIKELY` are still taken. They were set
by hand; on the corpus the levels in between carry nothing.
"""

from __future__ import annotations

from typing import Final, NamedTuple

SURE: Final = 0.0
HARDLY: Final = 0.02
"""Said so, if not in the usual words; breaks a tie."""
LIKELY: Final = 0.05
FAIR: Final = 0.1
WEAK: Final = 0.15
"""Taken where nothing else is in doubt."""
UNSURE: Final = 0.3
"""Asked."""
DOUBTFUL: Final = 0.5
"""Asked only where nothing better is there."""
UNLIKELY: Final = 0.8
ABSURD: Final = 1.5
"""Never taken, never offered beside another."""
NEVER: Final = 9.0
"""Dearer than any reading."""

# ---------------------------------------------------------------------------------- what is done with a reading: bounds

TAKE: Final = 0.8
"""Least confidence at which a reading is taken."""
ASK: Final = 0.25
"""Least confidence at which it is worth a question."""
SHARP: Final = 14.0
"""How much a runner-up that means something else must be dearer: at a gap of 0.16 the best is nine times likelier."""
CLOSE: Final = 0.6
"""A reading at most this much dearer than the best is offered beside it."""
OVERHEARD: Final = 0.25
"""Most left unexplained at which something said in a group, not to the bot, is more than chatter."""
POOR: Final = 0.4
"""Confidence below which it is chatter, too."""

# ------------------------------------------------------------------------------------------- cutting a message in parts

COMMAND: Final = 0.12
"""What one more command costs: fewer commands that explain as much are likelier."""
MATTERS: Final = 0.45
"""A reading this much dearer than another changes nothing any more."""
HOPELESS: Final = 0.22
"""Another spelling or grouping this much dearer isn't read any more."""
GUESSED: Final = 0.5
"""How much a recogniser's doubt of its guess counts."""
NO_PAUSE: Final = 0.1
"""What it costs to end a command where nothing marks an end."""
NO_LAY_ENDS: Final = 0.3
"""What it costs to end one lay and begin another where nothing stands between."""
SWALLOWED: Final = 0.3
"""What a reading costs that explains away words which are a command by themselves."""
WHOLE: Final = 0.1
"""Most that a piece may cost to be one beyond doubt."""


class Costs(NamedTuple):
    """What one word or number left unread costs; `python -m tests.grammar.doubts` measures each against the bank."""

    number: float = 1.0
    denial: float = 1.2
    answered_no: float = 0.5
    mark: float = 0.4
    name: float = 0.55
    strong: float = 0.55
    term: float = 0.37
    plain: float = 0.37
    strange: float = 0.42
    turning: float = 0.42
    idle: float = 0.04
    filler: float = 0.25
    """A word that says nothing, if it was spelled so."""
    carried: float = 0.045
    """Any other word beside a lay that its numbers carry."""
    carried_term: float = 0.11
    """A term there that a lay isn't made of."""
    person: float = 0.1
    street: float = 0.15
    bad_time: float = 1.2
    time: float = 0.8
    torn: float = 0.25
    """Two commands with nothing that marks an end between them."""
    whereabouts: float = 0.02
    """A word for where a line works or what burns there."""
    miscounted: float = 0.35
    """Besides, a word right before what is counted: it may be a misspelt number."""
    misunited: float = 0.3
    """Besides, a word right behind a bare number: it may be a misspelt unit."""


class Unread(NamedTuple):
    """How much the cost of words that no part of a message reads counts, by how they stand to what is read."""

    beside: float = 1.6
    strange: float = 1.1
    """Apart, and not known."""
    apart: float = 0.7
    talk: float = 0.5
    """One ordinary word, apart."""


UNREAD: Final = Unread()
COSTS: Final = Costs()
HOPELESS_READING: Final = 4.0
"""A reading of a stretch that costs as much isn't kept."""
ACROSS: Final = 0.12
"""What it costs to read across the end of a sentence."""
ACROSS_MARKED: Final = 0.2
"""The same, past a question or an exclamation mark."""
ASKED: Final = 1.2
"""What is logged though it was only asked."""
MISSPELT: Final = 0.45
"""How much of its spelling's cost counts once more where something is logged."""
SLIPPED: Final = 0.08
"""What its spelling costs, from here on a word was only taken for what it is read as."""
STRICT: Final = 1.7
"""How much more an unexplained word weighs where something is logged or runs."""
