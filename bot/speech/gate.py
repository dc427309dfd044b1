"""Decides what may be done with a recogniser's guess: answer it, ask about it, or say that it wasn't understood.

Three margins, from `bot.speech.ear.decoding`:

* `grammar_margin` (m1) = log p(best grammar sentence) − log p(freely decoded text): how much the audio had to be bent to fit.
* `rival_margin` (m2) = log p(best grammar sentence) − log p(best grammar sentence that means something else).
* `clarity` (g) = geometric mean of the token probabilities of the freely decoded text: how sure the ear was at all.

A wrong number told with confidence is the worst fault there is, so all three must be passed for an answer.
"""

from __future__ import annotations

import math
from dataclasses import dataclass
from enum import StrEnum


class Decision(StrEnum):
    """What the caller may do with what was heard."""

    ANSWER = "answer"
    ASK = "ask"
    DECLINE = "decline"


@dataclass(frozen=True, slots=True)
class Margins:
    """The evidence for the best guess; natural logarithms."""

    grammar_margin: float
    rival_margin: float
    clarity: float
    agreed: bool = False
    """Free decoding and the grammar-bound search mean the same thing."""
    readable: bool = True
    """The best guess can be read as a command at all."""


@dataclass(frozen=True, slots=True)
class Thresholds:
    """Least margins for an answer and, lower, for a question back. Fitted by `python -m tests.bench`; see DEVELOPERS.md."""

    grammar_margin: float = -3.0
    rival_margin: float = 1.0
    clarity: float = 0.3
    ask_grammar_margin: float = -12.0
    ask_clarity: float = 0.12


EAR = Thresholds()
"""Fitted for the built-in ear's shipped weights."""
