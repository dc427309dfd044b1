"""Frames: a command declared as data: what wakes it, its slots, what it becomes when asked, denied, hoped or ordered.

The files of `grammar/language` declare them; `read_frames` reads a stretch of a message as one of them. A frame:

    [[frame]]
    command = "Arrest"                             the command's class
    sets = { action = "shock" }                    fields that the frame itself decides
    defaults = { name = "elapsed" }                fields it has where nothing else was said
    wakes = ["shock_given", "shock_word given"]    cues: terms that must all be there ("rem_*": any that begins so);
                                                   or { sure = […], doubtful = […] }
    slots = { joules = "energy", time = "time" }   field -> slot, filled from what is said
    flags = { save = ["save"] }                    field -> terms that make it true
    means = { iso_method = { method = "iso" } }    term -> the fields that it says
    also = ["given", "patient"]                    terms that go with it and say nothing more
    state = ["given", "started"]                   terms whose stance counts beside the cue's
    unless = ["reminders"]                         terms that mean something else is said ("is:num": a kind of item,
                                                   "word:off_by_others": a word of that list; "one other": both)
    beside = ["another", "can_add"]                one of these terms is there too, wherever
    first = true                                   nothing but filler before the cue
    alone = true                                   nothing but filler beside the cue
    quotes_last = true                             words that name the speaker's last command are explained ("quoted")
    asks = true                                    a question or a call by itself: every stance is taken
    within = ["medical"]                           what must hold of the context, any of them
    needs = ["gauge_psi"]                          fields without which it isn't this
    needs_any = ["lift_ft", "altitude_ft"]         one of these at least
    lacking = { flow_lpm = "At how many …?" }      fields that are asked for, in this order; of "a b" one will do;
                                                   "{say.flow_unit}" is the rig's unit (grammar/saying.py)
    offers = { question = "…?", choices = { "yes" = { source = "hydrant" }, "not yet" = {} } }
                                                   it is asked, with what each choice is (no fields: nothing)
    then = "which_way"                             what a function of the readers (`@then`) makes of it; None: nothing
    name = "shuttle"                               by which another frame is like it
    like = "shuttle"                               it has all that isn't said here from that frame
    never = { readied = "not_done" }               term -> the sentence that says why this is nothing to log
    keeps_numbers = true                           numbers no slot takes are kept in the words
    becomes = { asked = "question", … }            stance -> taken, perhaps, nothing, a sentence, { command = … };
                                                   or the name of a table [becomes.NAME] that several frames share
    says = ["shock (given | delivered) [at <joules> joules]"]   wording for the word graph and for drawn sentences
    help = "medical"                               topic of the help in which its first wording stands as an example;
                                                   or { medical = ["CPR started"] }, in these words
    metric = { medical = ["…"] }                   the same where people speak in metric units, if that differs
"""

from __future__ import annotations

from collections.abc import Callable, Iterable, Iterator, Mapping, Sequence
from itertools import pairwise
from typing import Any, NamedTuple, TypeAlias

import msgspec

from grammar import commands
from grammar.commands import Choice, Command, Context, Question
from grammar.lexicon import LanguageError, by_language, language, sentence
from grammar.readers.base import TRIGGERS, Candidate, Span, Stance, Take
from grammar.saying import Sayer
from grammar.slots import Slot, fill, slots
from grammar.vocabulary import vocabulary, word_list

COSTS = {"sure": 0.0, "likely": 0.05, "weak": 0.15, "doubtful": 0.3}
"""What a cue or a becoming costs, by its name."""


class Cue(NamedTuple):
    """Terms that wake a frame together, and what they leave in doubt."""

    terms: tuple[str, ...]
    cost: float


class Frame(NamedTuple):
    """One declared command; the fields stand as in the module's docstring."""

    command: type[Command]
    sets: Mapping[str, Any]
    defaults: Mapping[str, Any]
    cues: tuple[Cue, ...]
    slots: Mapping[str, Slot]
    flags: Mapping[str, tuple[str, ...]]
    means: Mapping[str, Mapping[str, Any]]
    also: tuple[str, ...]
    state: tuple[str, ...]
    unless: tuple[str, ...]
    beside: tuple[str, ...]
    within: tuple[str, ...]
    needs: tuple[str, ...]
    needs_any: tuple[str, ...]
    lacking: Mapping[str, str]
    offers: Mapping[str, Any]
    then: str | None
    never: Mapping[str, str]
    keeps_numbers: bool
    first: bool
    alone: bool
    quotes_last: bool
    asks: bool
    becomes: Mapping[str, Any]
    says: tuple[str, ...]
    help: str | Mapping[str, Sequence[str]]
    metric: Mapping[str, Sequence[str]]


@by_language
def frames() -> tuple[Frame, ...]:
    """Every frame of the language."""
    named = {spec["name"]: spec for spec in language()["frame"] if "name" in spec}
    return tuple(_frame(_whole(spec, named)) for spec in language()["frame"])


def _whole(spec: dict[str, Any], named: Mapping[str, dict[str, Any]]) -> dict[str, Any]:
    """With what it has of the frame that it is like; that one's wording is its own."""
    if "like" not in spec:
        return spec
    return {key: value for key, value in named[spec["like"]].items() if key not in ("says", "help", "metric")} | spec


def _frame(spec: dict[str, Any]) -> Frame:
    name = f"{spec['file']}: {spec['command']}"
    command = getattr(commands, spec["command"], None)
    if command is None:
        raise LanguageError(f"{name} is no command of grammar/commands.py")
    wakes = spec["wakes"] if isinstance(spec["wakes"], dict) else {"sure": spec["wakes"]}
    known = set(command.__struct_fields__)
    meant = [field for said in spec.get("means", {}).values() for field in said]
    fields = {*meant, *(field for key in ("sets", "defaults", "slots", "flags") for field in spec.get(key, ()))}
    if fields - known:
        raise LanguageError(f"{name} has no field {sorted(fields - known)[0]}")

    def listed(key: str) -> tuple[str, ...]:
        return tuple(spec.get(key, ()))

    return Frame(
        command,
        sets=spec.get("sets", {}),
        defaults=spec.get("defaults", {}),
        cues=tuple(
            Cue(terms, COSTS[strength]) for strength, cues in wakes.items() for cue in cues for terms in _terms(cue)
        ),
        slots={field: slots()[slot] for field, slot in spec.get("slots", {}).items()},
        flags={field: tuple(terms) for field, terms in spec.get("flags", {}).items()},
        means=spec.get("means", {}),
        also=listed("also"),
        state=listed("state"),
        unless=listed("unless"),
        beside=listed("beside"),
        within=listed("within"),
        needs=listed("needs"),
        needs_any=listed("needs_any"),
        lacking=spec.get("lacking", {}),
        offers=spec.get("offers", {}),
        then=spec.get("then"),
        never=spec.get("never", {}),
        keeps_numbers=spec.get("keeps_numbers", False),
        first=spec.get("first", False),
        alone=spec.get("alone", False),
        quotes_last=spec.get("quotes_last", False),
        asks=spec.get("asks", False),
        becomes=_shared(spec.get("becomes", {})),
        says=listed("says"),
        help=spec.get("help", {}),
        metric=spec.get("metric", {}),
    )


def _shared(becomes: str | Mapping[str, Any]) -> Mapping[str, Any]:
    """What it becomes; by a name where several frames become the same."""
    return dict(language()["becomes"][becomes]) if isinstance(becomes, str) else becomes


def _terms(cue: str) -> Iterator[tuple[str, ...]]:
    """The terms of a cue; once for each term that a "*" stands for."""
    terms = tuple(cue.split())
    if not cue.endswith("*"):
        yield terms
        return
    stem = terms[-1].removesuffix("*")
    yield from ((*terms[:-1], term) for term in vocabulary().concepts if term.startswith(stem))


# --------------------------------------------------------------------------------------------------------- reading one


@by_language
def _woken() -> dict[str, tuple[int, ...]]:
    """The frames that a term wakes, by their places."""
    found: dict[str, tuple[int, ...]] = {}
    for k, frame in enumerate(frames()):
        for term in {cue.terms[0] for cue in frame.cues}:
            found[term] = (*found.get(term, ()), k)
    return found


def read_frames(span: Span) -> Iterable[Candidate]:
    """The stretch as each frame that its terms wake."""
    by_term, every = _woken(), frames()
    for k in sorted({k for term in span.concepts if term in by_term for k in by_term[term]}):
        frame = every[k]
        wanted = not frame.beside or _any(span, frame.beside)
        if wanted and not _any(span, frame.unless) and _within(frame, span.context):
            yield from _read(frame, span)


def _any(span: Span, terms: Sequence[str]) -> bool:
    """Any of the terms is there; of "one other" both are."""
    return any(all(one in span.concepts or next(_where(span, one), -1) >= 0 for one in term.split()) for term in terms)


def _within(frame: Frame, context: Context) -> bool:
    """Any of the conditions holds: "medical", "fire", "open", the speaker's role, or their last command's class."""
    if not frame.within:
        return True
    last = type(context.last[-1]).__name__ if context.last else ""
    held = {last, context.incident_kind, "open" if context.incident_open else "", "asked" if context.asked else ""}
    held.add(context.role or "")
    return not held.isdisjoint(frame.within)


def _read(frame: Frame, span: Span) -> Iterator[Candidate]:
    cue, at = min(_cues(frame, span), key=_likeliest, default=(None, ()))
    if cue is None:
        return
    if frame.first and (any(i < min(at) for i in span.content()) or _goes_on(span)):
        return
    if frame.alone and any(i not in at for i in span.content()):
        return
    take = Take(span, *span.where(*cue.terms), cost=cue.cost)
    values = {**frame.defaults, **frame.sets, **_flags(frame, take), **_meant(frame, take), **fill(frame.slots, take)}
    _also(frame, take)
    quoted = frame.quotes_last and _quotes(take)
    if frame.needs_any and all(values.get(field) is None for field in frame.needs_any):
        return
    if any(values.get(field) is None and not (field == "quoted" and quoted) for field in frame.needs):
        return
    stance = span.stance(*at, *span.where(*frame.state))
    becomes = frame.becomes.get(stance, "taken" if frame.asks else _BECOMES[stance])
    readied = [term for term in frame.never if span.has(term)]
    if readied and stance != "asked":
        take.mark(*span.where(*readied))
        becomes = frame.never[readied[0]]
    if becomes == "nothing":
        return
    if becomes in ("taken", "perhaps"):
        found = _taken(frame, take, values, stance, COSTS["doubtful"] if becomes == "perhaps" else 0.0)
        yield from () if found is None else (found,)
    else:
        yield from _become(frame, take, values, becomes)


_BECOMES = {
    "said": "taken",
    "asked": "question",
    "denied": "not_happened",
    "hoped": "still_to_come",
    "ordered": "an_order",
}


def _cues(frame: Frame, span: Span) -> Iterator[tuple[Cue, tuple[int, ...]]]:
    """The cues that are there, with the positions of their terms; none across a pause or an "and"."""
    for cue in frame.cues:
        if all(_any(span, (term,)) for term in cue.terms):
            first = next(_where(span, cue.terms[0]))
            at = tuple(min(_where(span, term), key=lambda i: (i <= first, abs(i - first))) for term in cue.terms[1:])
            at = (first, *at)
            if len(set(at)) == len(at) and not any(_apart(span, i, j) for i, j in pairwise(sorted(at))):
                yield cue, at


def _goes_on(span: Span) -> bool:
    """What stands right before the stretch is of the same clause."""
    before = span.items[span.lo - 1] if span.lo else None
    return before is not None and not before.free and before.kind != "sep" and "and" not in before.concepts


def _where(span: Span, term: str) -> Iterator[int]:
    """Positions of a term; "is:unit" is any item of that kind, "word:by_others" any that is a word of that list."""
    kind, _, name = term.partition(":")
    if kind == "is":
        return iter(span.kinds(name))
    if kind == "word":
        listed = word_list(name)
        return (i for i in range(span.lo, span.hi) if span.items[i].text in listed)
    return span.where(term)


def _likeliest(found: tuple[Cue, tuple[int, ...]]) -> tuple[float, bool, int]:
    """The surest cue; of equals the one in its order, its terms closest together."""
    cue, at = found
    return cue.cost, list(at) != sorted(at), max(at) - min(at)


def _apart(span: Span, i: int, j: int) -> bool:
    return any(item.kind == "sep" or "and" in item.concepts for item in span.items[i + 1 : j])


def _flags(frame: Frame, take: Take) -> dict[str, bool]:
    return {field: True for field, terms in frame.flags.items() if take.terms(*terms)}


def _meant(frame: Frame, take: Take) -> dict[str, Any]:
    """What the terms say that are there; of two that say the same, the first."""
    found: dict[str, Any] = {}
    for term, said in frame.means.items():
        if take.span.has(term):
            take.mark(*take.span.where(term))
            found = {**said, **found}
    return found


def _also(frame: Frame, take: Take) -> None:
    """What goes with it and says nothing more; "is:unit" is any item of that kind."""
    take.terms(*frame.also)
    take.mark(*(i for term in frame.also if term.startswith("word:") for i in _where(take.span, term)))
    kinds = [term.removeprefix("is:") for term in frame.also if term.startswith("is:")]
    if frame.keeps_numbers:
        kinds.append("num")
    take.mark(*(i for i in take.open() if take.span.items[i].kind in kinds))


def _quotes(take: Take) -> bool:
    """Words that name the last command: "undo that water on the fire"."""
    last = take.span.context.last[-1] if take.span.context.last else None
    if last is None:
        return False
    said = {str(value).replace("_", " ") for value in msgspec.structs.astuple(last) if isinstance(value, str)}
    items = take.span.items
    rest = [i for i in take.open() if not items[i].free and items[i].kind != "sep"]
    named = {c.replace("_", " ") for i in rest for c in items[i].concepts} | {str(items[i].value) for i in rest}
    if named.isdisjoint(said):
        return False
    take.mark(*rest)
    return True


def _marks(take: Take) -> None:
    """The words that negate, hope, order or ask are explained by what the frame becomes."""
    items = take.span.items
    take.mark(*(i for i in range(take.span.lo, take.span.hi) if items[i].polarity_mark))


def _taken(frame: Frame, take: Take, values: Mapping[str, Any], stance: Stance, doubt: float) -> Candidate | None:
    if stance != "said":
        _marks(take)
    take.cost += doubt
    say = Sayer(take.span.context.wording)
    for fields, question in frame.lacking.items():
        field = fields.split()[0]
        if all(values.get(one) is None for one in fields.split()):
            optional = not next(f for f in msgspec.structs.fields(frame.command) if f.name == field).required
            fills = build(frame, values if optional else {field: 0, **values})
            slot = field if field == fields else frame.command.intent
            asked = Question(question.format(say=say), (), fills, slot)
            return take.asking(asked, frame.command.intent, COSTS["weak"])
    command = build(frame, values)
    if frame.offers:
        choices = [
            Choice(label, (build(frame, {**values, **sets}),) if sets else ())
            for label, sets in frame.offers["choices"].items()
        ]
        return take.asking(Question(frame.offers["question"], tuple(choices)), command.intent, COSTS["likely"])
    return _THEN[frame.then](take, command) if frame.then else take.reading(command)


Then: TypeAlias = Callable[[Take, Any], Candidate | None]
_THEN: dict[str, Then] = {}


def then(finish: Then) -> Then:
    """Registers what is made of a frame's command where that can't be said as data."""
    _THEN[finish.__name__] = finish
    return finish


def build(frame: Frame, values: Mapping[str, Any]) -> Command:
    """The frame's command with these fields; what wasn't said is left out."""
    return frame.command(**{field: value for field, value in values.items() if value is not None})


def _become(frame: Frame, take: Take, values: Mapping[str, Any], becomes: Any) -> Iterator[Candidate]:
    _marks(take)
    take.mark(*(i for i in take.open() if take.span.items[i].kind == "num"))  # of what isn't so nothing is kept
    if isinstance(becomes, str):
        yield take.declining(sentence(becomes), frame.command.intent, COSTS["likely"])
        return
    other = getattr(commands, becomes["command"])
    same = {field: values[field] for field in other.__struct_fields__ if values.get(field) is not None}
    sets = {field: value for field, value in becomes.items() if field != "command"}
    yield take.reading(other(**{**same, **sets}), cost=COSTS["likely"])


@by_language
def triggers() -> frozenset[str]:
    """The concepts that wake a frame or another reader."""
    return frozenset((*TRIGGERS, *_woken()))
