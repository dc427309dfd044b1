"""What was heard in a recording, and the face that every recogniser shows (`Recogniser`).

    recogniser = open_recogniser(vosk_model=None)                # bot.speech.recogniser
    heard = recogniser.hear(decode(data), graph, meaning)        # blocking: call it in a worker thread

`graph` is the word graph of what can be said (`grammar.phrases`), `meaning` turns words into something hashable that is
equal when two sentences ask for the same thing, and None when they can't be read. Recognisers hold no state between
calls and may be used from several threads.
"""

from __future__ import annotations

from collections.abc import Callable, Hashable
from dataclasses import dataclass
from enum import StrEnum
from typing import TYPE_CHECKING, Literal, Protocol, TypeAlias

if TYPE_CHECKING:
    import numpy as np
    from numpy.typing import NDArray

    from bot.speech.activity import Activity
    from grammar.phrases import WordGraph

    Samples: TypeAlias = NDArray[np.float32]
    """Mono, 16,000 samples a second, −1…1."""

SAMPLE_RATE = 16_000

Meaning: TypeAlias = Callable[[str], Hashable | None]
"""Words -> what they mean (hashable, equal for equal meaning), or None when they can't be read."""


class Decision(StrEnum):
    """What the caller may do with what was heard."""

    ANSWER = "answer"
    ASK = "ask"
    """Ask "Did you say …?" with `Heard.words`; nothing is done before a yes."""
    DECLINE = "decline"


@dataclass(frozen=True, slots=True)
class Margins:
    """The evidence for the best guess; natural logarithms (see `bot.speech.gate`)."""

    grammar_margin: float
    rival_margin: float
    clarity: float
    likeness: float = 1.0
    """0..1: how alike the best guess and the freely decoded text are, letter by letter."""
    agreed: bool = False
    """Free decoding and the grammar-bound search mean the same thing."""
    readable: bool = True
    """The best guess can be read as a command."""
    twin_margin: float = 20.0
    """Lead over the guess that differs only by "fifteen" for "fifty" or the like."""


@dataclass(frozen=True, slots=True)
class HeardGuess:
    """One candidate wording."""

    words: str
    score: float
    """Natural log-probability of the whole sentence, comparable within one `Heard` only."""
    source: Literal["grammar", "free"]


@dataclass(frozen=True, slots=True)
class Heard:
    """What a recogniser made of one recording."""

    words: str
    """Best guess, lower-case words; empty when no speech was found."""
    guesses: tuple[HeardGuess, ...]
    """All candidates, best first (`words` among them)."""
    confidence: float
    """0..1: estimated probability that `words` is right."""
    decision: Decision
    reason: str
    """Why it isn't answered, as one sentence for the speaker; empty for an answer."""
    engine: str
    """ "ear" or "vosk"."""
    snr_db: float | None = None
    """Speech to noise in the recording, dB; None when it can't be told."""
    speech_s: float = 0.0
    """Seconds of speech found."""
    margins: Margins | None = None

    @property
    def alternatives(self) -> tuple[str, ...]:
        """The other candidates' words, best first."""
        return tuple(guess.words for guess in self.guesses if guess.words != self.words)


class Recogniser(Protocol):
    """An offline recogniser; blocking and thread-safe."""

    name: str

    def warm_up(self) -> None:
        """Load everything and run once, so that the first message isn't slower."""

    def hear(self, samples: Samples, graph: WordGraph, meaning: Meaning) -> Heard:
        """Recognise one recording. Never raises for what was said; an empty `Heard` says why there is nothing."""

    def hear_speech(self, samples: Samples, activity: Activity, graph: WordGraph, meaning: Meaning) -> Heard:
        """As `hear`, with the speech already found."""


def nothing_heard(engine: str) -> Heard:
    """A recording without speech."""
    return Heard("", (), 0.0, Decision.DECLINE, "No speech was heard: say it again, or type it.", engine)
