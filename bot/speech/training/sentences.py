"""Training sentences: templates of our own, the grammar's own phrases, and ordinary English.

A template is text with `[a|b|]` (pick one, nestable) and `{slot}` (wording.SLOTS). Some sentences get a way in
("okay", "command to pump") or a way out ("over"), as people do on a radio.
"""

import hashlib
import re
import tomllib
from collections.abc import Iterator
from dataclasses import asdict, dataclass
from pathlib import Path
from random import Random

from bot.speech.training.wording import SLOTS
from grammar import phrases, samples
from grammar.spoken import TEENS, TENS

WAYS_IN = [
    "okay", "pump operator", "hey pump", "engineer", "go ahead and", "i need you to", "please", "copy", "alright",
    "uh", "um", "can you", "driver", "command to pump", "engine twelve", "engine twelve from command", "hey", "so",
    "be advised", "crosslay", "listen", "okay listen", "right",
]  # fmt: skip
WAYS_OUT = ["please", "now", "right now", "when ready", "over", "thanks", "uh", "okay", "got it", "how copy", "copy"]
SURNAMES = ["alvarez", "bennett", "carter", "dawson", "ellis", "foster", "grant", "hayes", "ingram", "keller", "lopez"]
SURNAMES += ["moreno", "nolan", "okafor", "patel", "reyes"]
SAME_SOUND = {"handline": "hand line", "handlines": "hand lines", "smoothbore": "smooth bore"}
"""Where the grammar takes two spellings of the same sound, training uses one, so that the recogniser needn't guess."""


@dataclass(frozen=True, slots=True)
class Sentence:
    """A sentence to be spoken. kind: command, free, report, radio or english (ordinary talk, written with capitals)."""

    text: str
    kind: str


def expand(template: str, rng: Random) -> str:
    """One random sentence of a template: `[a|b|]` and `{slot}` filled, spaces tidied."""
    text = template
    while (match := re.search(r"\[([^\[\]]*)\]", text)) is not None:
        text = text[: match.start()] + rng.choice(match[1].split("|")) + text[match.end() :]
    text = re.sub(r"\{(\w+)\}", lambda match: SLOTS[match[1]](rng), text)
    return re.sub(r"\s+([.,?])", r"\1", re.sub(r"\s+", " ", text)).strip()


def is_held_out(text: str) -> bool:
    """Whether a sentence belongs to the speech bench: one in eight by a hash of its words, the same on every machine.

    Sentences of one or two words are never held out: the trade has one wording for them ("under control").
    """
    words = re.sub(r"[^a-z ]", "", text.lower()).split()
    return len(words) > 2 and hashlib.sha256(" ".join(words).encode()).digest()[0] % 8 == 0


def _dressed(text: str, rng: Random) -> str:
    if rng.random() < 0.22:
        text = f"{rng.choice(WAYS_IN)} {text}"
    return f"{text} {rng.choice(WAYS_OUT)}" if rng.random() < 0.07 else text


def _drawn(seed: int, kinds: frozenset[str]) -> Iterator[Sentence]:
    """Endless sentences of the given kinds from templates.toml, in the proportions of its weights."""
    rng = Random(seed)
    families = tomllib.loads(Path(__file__).with_name("templates.toml").read_text(encoding="utf-8"))["family"]
    families = [family for family in families if family["kind"] in kinds]
    while True:
        family = rng.choices(families, [family["weight"] for family in families])[0]
        text = expand(rng.choice(family["say"]), rng)
        yield Sentence(text if family["kind"] == "english" else _dressed(text, rng), family["kind"])


def trade_sentences(seed: int, kinds: frozenset[str]) -> Iterator[Sentence]:
    """Endless trade sentences of the given kinds (command, free, report, radio) of at most 24 words."""
    return (sentence for sentence in _drawn(seed, kinds) if len(sentence.text.split()) <= 24)


def english_sentences(seed: int, lines: list[str]) -> Iterator[Sentence]:
    """Endless ordinary English: everyday templates, and where given the lines of a text of the user's own."""
    rng = Random(seed)
    for plain in _drawn(seed, frozenset({"english"})):
        yield Sentence(rng.choice(lines), "english") if lines and rng.random() < 0.65 else plain


def plain_sentences(folder: Path) -> list[str]:
    """Sentences of 4 to 14 plain words found in the text files of a folder (any plain English text will do)."""
    found: set[str] = set()
    for path in sorted(path for path in folder.iterdir() if path.is_file() and path.suffix not in {".dat", ".u8"}):
        text = re.sub(r"\s+", " ", path.read_text(encoding="utf-8", errors="ignore").replace("\n%\n", " "))
        for sentence in re.split(r"(?<=[.?!])\s+", text):
            if re.fullmatch(r"[A-Z][a-z',]*( [A-Za-z',]+){3,13}[.?!]", sentence) and not re.search(
                r"[A-Z]{2}", sentence
            ):
                found.add(sentence)
    return sorted(found)


SHARES = {"grammar": 0.30, "twins": 0.16, "trade": 0.39, "english": 0.15}
TWINS = dict(zip(TEENS[3:], TENS[3:], strict=True)) | dict(zip(TENS[3:], TEENS[3:], strict=True))
"""Numbers that begin alike: ears confuse these first."""


def training_sentences(count: int, seed: int, english: list[str], held_out: bool = False) -> list[Sentence]:
    """`count` different sentences in the proportions of SHARES; `held_out` picks the bench's side of the split."""
    rng = Random(seed)
    trade = trade_sentences(seed + 1, frozenset({"command", "free", "report", "radio"}))
    ordinary = english_sentences(seed + 2, english)
    found: dict[str, Sentence] = {}
    repeats = 0
    while len(found) < count:
        source = rng.choices(list(SHARES), list(SHARES.values()))[0]
        if source == "grammar":
            sentence = Sentence(grammar_phrase(rng), "command")
        elif source == "twins":
            sentence = Sentence(twin_phrase(rng), "command")
        else:
            sentence = next(ordinary) if source == "english" else next(trade)
        fresh = sentence.text not in found
        repeats += not fresh
        if is_held_out(sentence.text) == held_out and (fresh or repeats % 4 == 0):
            # A short common sentence ("under control") may come again now and then, spoken by another voice.
            found[sentence.text if fresh else f"{sentence.text}#{repeats}"] = sentence
    return list(found.values())


def grammar_phrase(rng: Random) -> str:
    """A random phrase of the grammar, for a rig and an incident with random names."""
    names = phrases.Names(
        units=tuple(SLOTS["company"](rng) for _ in range(3)),
        places=(SLOTS["address"](rng),),
        people=tuple(rng.sample(SURNAMES, 3)),
        own_unit=rng.choice(["engine twelve", SLOTS["company"](rng)]),
    )
    words = samples.sample(rng, names).words.split()
    return " ".join(SAME_SOUND.get(word, word) for word in words)


def twin_phrase(rng: Random) -> str:
    """A phrase of the grammar in which one number is "fifteen" or "fifty" or the like, either at random."""
    while True:
        words = grammar_phrase(rng).split()
        at = [index for index, word in enumerate(words) if word in TWINS]
        if at:
            index = rng.choice(at)
            words[index] = rng.choice([words[index], TWINS[words[index]]])
            return " ".join(words)


def as_record(sentence: Sentence) -> dict[str, str]:
    """The sentence as it stands in a JSON-lines file."""
    return asdict(sentence)
