"""Decides what is done with the readings of a message: the best taken, one closed question, a refusal, or silence."""

from __future__ import annotations

import math
from collections import Counter

import msgspec

from grammar.commands import (
    AirReading,
    Assign,
    Benchmark,
    Choice,
    Command,
    Context,
    Emergency,
    FlowAtPressure,
    Hydrant,
    LineOn,
    LineRef,
    PumpPressure,
    PumpStatus,
    Question,
    Reading,
    Repeat,
    Report,
    Request,
    Rival,
    SaidLay,
    SaidLine,
    Status,
    SupplyExpected,
    Wording,
)
from grammar.costs import ASK, CLOSE, NEVER, OVERHEARD, POOR, SHARP, SLIPPED, TAKE, UNSURE
from grammar.describe import several
from grammar.items import Item
from grammar.lexicon import sentence
from grammar.readers.base import Candidate
from grammar.readers.sizes import SMALLEST_TIP_IN
from grammar.splitting import Part

replace = msgspec.structs.replace


def decide(text: str, found: list[tuple[Part, str]], context: Context) -> Reading:
    """What is done with the readings found, cheapest first, each with the words that were read so."""
    if not found:
        return _nothing(text, context, None)
    best, words = found[0]
    rivals = _rivals(best, found)
    quality = math.exp(-best.worst)
    gap = min((part.cost - best.cost for part, _ in rivals), default=NEVER)
    confidence = round(quality / (1 + math.exp(-SHARP * gap) if gap < 2 else 1), 4)
    others = tuple(Rival(part.commands, round(math.exp(-part.worst), 4)) for part, _ in rivals[:3] if part.commands)
    intent = next((p.intent for p in best.pieces if p.intent), None)
    said = Reading(text, confidence=confidence, rivals=others, intent=intent)
    overheard = context.group and not context.addressed
    if confidence < ASK or (overheard and _chatter(best, quality)):
        return _nothing(text, context, intent if confidence >= ASK else None)
    asked = next((p for p in best.pieces if p.question is not None), None)
    if asked is not None:
        return _asking(said, asked, best, context)
    if confidence < TAKE and overheard and len(text.split()) < 3:
        return Reading(text, ignored=True)
    return _doubtful(said, best, rivals, context) if confidence < TAKE else _taken(said, best, words)


def _chatter(best: Part, quality: float) -> bool:
    """Too much of it is unexplained to be more than what people say to each other."""
    left = sum(p.left for p in best.pieces) + UNSURE * len(best.unread)
    return left > OVERHEARD or quality < POOR


def _asking(said: Reading, asked: Candidate, best: Part, context: Context) -> Reading:
    """One part must be asked: the rest is taken beside it, or stands in the question's choices."""
    rest = _without(asked, best) if said.confidence >= TAKE else None
    if rest is not None:
        commands, notes = rest
        return replace(said, commands=commands, intent=commands[0].intent, assumed=notes)
    return replace(said, question=_whole_question(asked, best, context.wording), intent=asked.intent)


def _taken(said: Reading, best: Part, words: str) -> Reading:
    declined = [p.declined for p in best.pieces if p.declined is not None]
    if not best.commands:
        return replace(said, declined=declined[0] if declined else None, rivals=())
    notes = [n for p in best.pieces for n in p.notes] + declined
    notes += [f"not read: “{u.words}”" for u in best.unread]
    if words != said.text:
        notes.append(f"heard as “{words}”")
    return replace(said, commands=best.commands, intent=best.commands[0].intent, assumed=tuple(notes))


def _rivals(best: Part, found: list[tuple[Part, str]]) -> list[tuple[Part, str]]:
    """Other readings that mean something else."""
    out = []
    essence = _essence(best) if len(found) > 1 else ()
    for part, words in found[1:]:
        same = _essence(part) == essence or any(rule(part, best) for rule in _SAME)
        if not same and not _reads_less(part, best) and not _only_declines(part, best) and not _absurd(part):
            out.append((part, words))
    return out


def _reads_less(part: Part, best: Part) -> bool:
    """It leaves unread what the best leaves and more, all of it known words, in no fewer commands."""
    more = _left(part)
    known = all(item.slip < SLIPPED and (item.form == "plain" or item.kind != "word") for item in more)
    return len(part.pieces) >= len(best.pieces) and known and _words(more) > _words(_left(best))


def _left(part: Part) -> list[Item]:
    return [*(i for p in part.pieces for i in p.over), *(i for u in part.unread for i in u.items if not i.free)]


def _words(items: list[Item]) -> Counter[str]:
    return Counter(word for item in items for word in item.text.split())


_TO_COME = (Assign, SupplyExpected)
"""Commands that are said of what is still to come."""


def _only_declines(part: Part, best: Part) -> bool:
    """It declines as still to come what the best takes as just that: "engine 9 supply, eta four minutes"."""
    return (
        not part.commands
        and any(p.declined for p in part.pieces)
        and all(isinstance(c, _TO_COME) for c in best.commands)
    )


def _essence(part: Part) -> tuple[object, ...]:
    """What a reading does, without the words it keeps."""
    if not part.commands:
        return ("nothing", *(p.question.text for p in part.pieces if p.question is not None))
    bare = tuple(_without_words(_placeless(c)) for c in part.commands)
    return (*bare, *(p.question.text for p in part.pieces if p.question is not None))


_WITH_WORDS = (Report, Request, Emergency)
"""Commands whose words can't be left out."""


def _without_words(command: Command) -> Command:
    if isinstance(command, Benchmark):
        return replace(command, remark=None)
    if "text" in command.__struct_fields__:
        return replace(command, text="" if isinstance(command, _WITH_WORDS) else None)
    return command


def _placeless(command: Command) -> Command:
    """Without the place that a line works at: it changes no number."""
    if isinstance(command, PumpPressure):
        return replace(command, lays=tuple(_nowhere(lay) for lay in command.lays))
    if isinstance(command, LineOn) and command.lay is not None:
        lay = _nowhere(command.lay)
        bare = len(lay.lines) == 1 and not lay.feed and lay.lines[0] == SaidLine(name=lay.lines[0].name)
        return replace(command, lay=None, ref=LineRef(name=lay.lines[0].name)) if bare else replace(command, lay=lay)
    return command


def _nowhere(lay: SaidLay) -> SaidLay:
    return replace(lay, lines=tuple(replace(line, place=None) for line in lay.lines))


def _fragments(part: Part, best: Part) -> bool:
    """The same in more and smaller pieces: a cylinder's gauge told beside an exit or with it."""
    if len(part.commands) <= len(best.commands) or not best.commands:
        return False
    intents = {c.intent for c in best.commands}
    rest = [c for c in part.commands if c.intent not in intents]
    told = {v for c in best.commands for v in _values(c)}
    return {c.intent for c in part.commands} >= intents and all(
        isinstance(c, AirReading) and _values(c) <= told for c in rest
    )


def _values(command: Command) -> set[object]:
    given = zip(command.__struct_fields__, command.__struct_defaults__, strict=False)
    return {getattr(command, f) for f, default in given if getattr(command, f) not in (default, None)}


def _absurd(part: Part) -> bool:
    """A tip that no nozzle has: "1 1/8" read as a floor and an eighth of an inch."""
    lays = (lay for c in part.commands if isinstance(c, PumpPressure | FlowAtPressure) for lay in c.lays)
    tips = (line.nozzle.tip_in for lay in lays for line in lay.lines)
    return any(tip is not None and tip < SMALLEST_TIP_IN for tip in tips)


def _asks_besides(part: Part, best: Part) -> bool:
    """The same, and the words of the question once more as one of the pump's standing: "…, what am I pumping it at"."""
    rest = [command for command in part.commands if command not in best.commands]
    lays = bool(best.commands) and all(isinstance(c, PumpPressure) for c in best.commands)
    return lays and len(part.commands) == len(best.commands) + len(rest) and all(isinstance(c, _AGAIN) for c in rest)


_AGAIN = (PumpStatus, Repeat)


def _stage(part: Part, best: Part) -> bool:
    """Asked of a search without saying which of its ends: of its completion, and nothing is logged."""
    one, other = (p.commands[0] if len(p.commands) == 1 else None for p in (part, best))
    if not isinstance(one, Status) or not isinstance(other, Status) or not one.about or not other.about:
        return False
    return other.about.endswith("_complete") and one.about == other.about.replace("_complete", "_started")


def _says_less(part: Part, best: Part) -> bool:
    """The same commands with less of what was said in them."""
    if len(part.commands) != len(best.commands) or not part.commands:
        return False
    return all(_within(less, more) for less, more in zip(part.commands, best.commands, strict=True))


_SAME = (_fragments, _says_less, _asks_besides, _stage)
"""What makes two readings one: f(the other, the best)."""


def _within(less: Command, more: Command) -> bool:
    plain = type(less) is type(more) and len(less.__struct_fields__) > len(less.__struct_defaults__)
    return (
        type(less) is type(more)
        and not plain
        and all(
            getattr(less, field) in (default, getattr(more, field))
            for field, default in zip(less.__struct_fields__, less.__struct_defaults__, strict=True)
        )
    )


_LAYS = (PumpPressure.intent, LineOn.intent)


def _without(asked: Candidate, best: Part) -> tuple[tuple[Command, ...], tuple[str, ...]] | None:
    """The rest of a message of which one part must be asked in free words: it isn't held back by that.

    A hydrant's one gauge goes along, since its handler asks for the other.
    """
    assert asked.question is not None
    if asked.question.choices or len(best.pieces) == 1:
        return None
    others = tuple(c for p in best.pieces if p is not asked for c in p.commands)
    if not others or (asked.intent in _LAYS and any(c.intent in _LAYS for c in others)):
        return None  # two parts of one lay may be told: none is answered without the other
    if isinstance(asked.question.fills, Hydrant):
        fills = asked.question.fills
        return tuple(c for p in best.pieces for c in ((fills,) if p is asked else p.commands)), ()
    return others, (f"not taken, say it by itself: {asked.question.text}",)


def _whole_question(asked: Candidate, best: Part, wording: Wording) -> Question:
    """The question, its choices standing for the message's other commands too."""
    assert asked.question is not None
    if len(best.pieces) == 1:
        return asked.question
    k = best.pieces.index(asked)
    before = tuple(c for p in best.pieces[:k] for c in p.commands)
    after = tuple(c for p in best.pieces[k + 1 :] for c in p.commands)
    choices = tuple(
        Choice(ch.label, (*before, *ch.commands, *after) if ch.commands else ()) for ch in asked.question.choices
    )
    rest = [several(c, wording) for c in (before, after) if c]
    text = asked.question.text + (f" (With the answer: {'; '.join(rest)}.)" if rest and choices else "")
    return Question(text, choices, asked.question.fills, asked.question.slot)


def _doubtful(said: Reading, best: Part, rivals: list[tuple[Part, str]], context: Context) -> Reading:
    """Not sure enough: one closed question."""
    if not best.commands:
        return replace(said, declined=next((p.declined for p in best.pieces if p.declined is not None), None))
    close = [part for part, _ in rivals if part.commands and part.cost < best.cost + CLOSE][:2]
    choices = [Choice(several(part.commands, context.wording), part.commands) for part in (best, *close)]
    labels = {c.label for c in choices}
    if close and len(labels) == len(choices):
        question = Question(sentence("which"), (*choices, Choice(sentence("none_of_these"))))
    else:
        name = "did_you_mean_but" if best.unread else "did_you_mean"
        unread = best.unread[0].words if best.unread else ""
        asked = sentence(name, label=choices[0].label, unread=unread)
        question = Question(asked, (Choice("yes", best.commands), Choice("no")))
    return replace(said, question=question)


def unsure(reading: Reading) -> bool:
    """It wasn't understood, or is only guessed at."""
    if reading.commands:
        return False
    if reading.declined is not None:
        return reading.intent is None
    return reading.ignored or (reading.question is not None and (reading.confidence < TAKE or not _precise(reading)))


def _precise(reading: Reading) -> bool:
    """What is asked is a part of the report itself."""
    return reading.intent in ("benchmark", "undo", "correction")


def _nothing(text: str, context: Context, intent: str | None) -> Reading:
    if context.group and not context.addressed:
        return Reading(text, ignored=True)
    return Reading(text, declined=sentence("not_understood"), intent=intent)
