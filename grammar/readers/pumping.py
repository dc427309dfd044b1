"""Reads a lay whose pressure is asked for: a bare lay or line name asks and starts nothing (convention 1)."""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Sequence

import msgspec

from grammar.commands import (
    Choice,
    Command,
    FlowAtPressure,
    PumpPressure,
    PumpStatus,
    Question,
    SaidHose,
    SaidLay,
    SaidLine,
    SupplyPressure,
    Wording,
)
from grammar.describe import lay_words
from grammar.doubt import idle
from grammar.readers.base import Candidate, Span, Take, in_unit, reads
from grammar.readers.lay_checks import Missing, with_total
from grammar.readers.layout import LayReading, read_lays, whichever
from grammar.readers.others_lines import others_unit, whose_question
from grammar.readers.slot_facts import supplies
from grammar.readers.supply_lay import each_or_all, ldh_in, parted
from grammar.saying import Sayer
from grammar.spared import names_no_line, places

replace = msgspec.structs.replace

LAY_TRIGGERS = (
    "is:num", "is:line", "is:family", "is:floor", "crosslay", "deck_gun", "monitor", "aerial", "standpipe", "sprinkler",
    "high_rise_pack", "booster", "big_line", "wye", "eductor", "ask_pressure",
)  # fmt: skip
_WISHES = frozenset(
    [
        "need",
        "needs",
        "want",
        "wants",
        "wanted",
        "should",
        "would",
        "will",
        "can",
        "could",
        "may",
        "get",
        "give",
        "put",
        "start",
        "set",
        "request",
        "requesting",
        "like",
        "if",
        "must",
        "shall",
    ]
) | {
    "need to",
    "should be",
    "going to",
    "would like",
    "like to",
    "give me",
    "give us",
    "supposed to",
    "have to",
    "got to",
    "will be",
    "might be",
}
"""Words around a lay that wish for it."""
_CHANGING = ("set_to", "replaced", "add_hose", "burst", "gate", "moved", "move_to", "more_pressure", "less_pressure")
ASK_WORDS = (
    "ask_pressure",
    "for_noise",
    "show",
    "pull",
    "line",
    "of_hose",
    "intake_at",
    "foam",
    "booster",
    "through",
    "pumping_what",
)
"""Words around a lay that ask for it and say nothing of it."""


@reads(*LAY_TRIGGERS)
def read_pressure(span: Span) -> Iterable[Candidate]:
    """ "two lines, 200 feet, 1.75, second floor", "crosslay one", "what do I pump for …"."""
    asked = span.has("ask_pressure")
    if _taken_off(span):
        take = Take(span, *range(span.lo, span.hi))
        yield take.declining(
            "Say the whole length of the line now, like “crosslay 1 is 150 feet”.", PumpPressure.intent, 0.03
        )
        return
    for said in read_lays(span):
        lay = whichever(said)
        take = Take(span)
        take.used = lay.used
        take.terms(*ASK_WORDS, *(() if span.context.last else ("what_about",)))
        take.mark(*(i for i in take.open() if span.items[i].text in _WISHES and not span.items[i].slip))
        picture = span.has("show")
        if lay.pump_psi is not None:
            continue
        if span.has("other") and said.family and span.context.last:
            continue
        if not _worth(span, lay, asked):
            continue
        changed = span.has(*_CHANGING) and any(line.on for line in span.context.lines)
        friction = _friction(span, take)
        take.cost += (0.2 if changed else 0.0) + (0.5 if span.has("lost_psi") and not friction else 0.0)
        if any(line.nozzle.nozzle_psi for one in lay.lays for line in one.lines) and span.has(
            "shut", "set_to", "more_pressure", "less_pressure"
        ):
            take.cost += 0.35  # "drop the rear line to 80 psi": at the pump, or at the nozzle?
        if not asked and all(
            line.name and not line.hose and line == SaidLine(name=line.name) for one in lay.lays for line in one.lines
        ):
            told = places(span.items, span.lo, span.hi)
            unread = [i for i in take.open() if span.items[i].kind in ("word", "term")]
            unread = [i for i in unread if not span.items[i].free and not idle(span.items[i])]
            unread = [i for i in unread if i not in told and not names_no_line(span.items, span.lo, i)]
            take.cost += 0.2 * len(unread)  # a word beside a line's name is likely what is done to it
        if _switched(span):
            take.cost += 0.6  # "rear line off"
        if any(span.items[i].text.startswith("except") for i in range(span.lo, span.hi)) and not span.has("same"):
            take.cost += 0.5  # what is left out isn't read
        take.cost += _verbs(span) + _beside(span) + _leg_alone(span)
        other = others_unit(span)
        if other >= 0:
            take.mark(other)
            unit = str(span.items[other].value)
            if (whose := whose_question(unit, lay.lays, Sayer(span.context.wording))) is not None:
                yield take.asking(whose, PumpPressure.intent, lay.cost + 0.1)
                continue
            take.notes.append(f"{unit}'s lay, worked out with our rig file's hose and tank")
            take.cost += 0.1
        yield from pressure_candidates(take, lay, picture, friction)
    if asked and not span.kinds("num", "line", "family", "floor"):
        take = Take(span, *span.where("ask_pressure"))
        take.terms(*ASK_WORDS)
        own = any({"my", "our"} & set(span.items[i].text.split()) for i in span.where("ask_pressure"))
        if own and any(line.on for line in span.context.lines):
            yield take.reading(PumpStatus(), cost=0.05)  # "what's my pressure": as it pumps now
        yield take.asking(which_line(span), PumpPressure.intent, 0.2)


_LOSS = frozenset(("friction", "lose", "losing"))


def _friction(span: Span, take: Take) -> bool:
    """ "Friction loss in 200 feet of 2½ at 250 gpm": a part of the answer, which shows each hose's."""
    at = [i for i in span.where("lost_psi", "supply_loss") if not _LOSS.isdisjoint(span.items[i].text.split())]
    told = any(span.items[i].unit in ("ft", "m") for i in span.kinds("num"))
    if not any("friction" in span.items[i].text.split() for i in at) and not told:
        return False  # "lose crosslay one"
    if not at or span.has("from_hydrant", "supply_to", "coefficient", "coeff_word"):
        return False
    if any(span.items[i].unit in ("psi", "bar", "kpa") for i in span.kinds("num")):
        return False
    take.mark(*at)
    take.free("only", "just", "alone")
    return True


def _taken_off(span: Span) -> bool:
    """ "take 50 feet off crosslay one"."""
    first = span.items[span.lo].text.split()[0]
    lengths = [i for i in span.kinds("num") if span.items[i].unit in ("ft", "m") and i + 1 < span.hi]
    away = any(span.items[i + 1].text in ("off", "from", "out of", "off of", "less", "shorter") for i in lengths)
    return (
        first in ("take", "took", "taking", "remove", "removed", "removing", "drop", "cut", "shorten", "pull") and away
    )


def _switched(span: Span) -> bool:
    """ "crosslay one off, crosslay two on": said to be on or off, not asked for."""
    for i in span.kinds("line", "family"):
        k = i + 1
        if k < span.hi and span.items[k].text in ("off", "on", "down", "up", "out"):
            after = span.items[k + 1] if k + 1 < span.hi else None
            if after is None or after.kind == "sep" or "and" in after.concepts:
                return True
    return False


def _verbs(span: Span) -> float:
    """ "Flowing" that is no label of a number, "charge": more is meant than a pressure."""
    if span.has("charge", "charged_state"):
        return 0.5
    for i in span.where("flow_on"):
        after = span.items[i + 1] if i + 1 < span.hi else None
        bare = (
            after is None
            or after.kind != "num"
            or after.unit in ("ft", "m")
            or (i == span.lo and any("line" in span.items[k].concepts for k in range(i + 2, min(i + 4, span.hi))))
        )
        if span.items[i].text == "start" or (
            span.items[i].text in ("flowing", "is flowing", "are flowing", "flow") and bare
        ):
            return 0.4
    return 0.0


def _beside(span: Span) -> float:
    """ "And …" after a pressure goes with what was asked before."""
    last = span.context.last[-1] if span.context.last else None
    if not isinstance(last, PumpPressure) or span.lo > 2:
        return 0.0
    leads = any("and" in i.concepts or i.text in ("plus", "also") for i in span.items[: span.lo + 1])
    return 0.4 if leads else 0.0


def _leg_alone(span: Span) -> float:
    """ "… to a wye, one leg …, other leg …": what is called a leg is no lay beside the wye."""
    before = any(not item.concepts.isdisjoint(("wye", "manifold")) for item in span.items[: span.lo])
    return 0.6 if before and span.has("legs") and not span.has("wye", "manifold") else 0.0


def _worth(span: Span, lay: LayReading, asked: bool) -> bool:
    """A length or a floor alone is no lay unless a pressure was asked for."""
    if asked:
        return True
    for one in lay.lays:
        if one.split and (one.feed or one.lines):
            return True
        for line in one.lines:
            if line.name or line.device or one.split:
                return True
            if any(h.hose_in is not None for h in line.hose) or lay.unknown_name or lay.family:
                return True
            if line.hose and (
                span.has("line", "legs", "of_hose") or line.floor is not None or span.has("stretch", "through")
            ):
                return True
            if line.nozzle.flow_gpm is not None and line.floor is not None:
                return True
    return False


_SUPPLY_LINE = ("supply line", "supply lines", "supply hose")


def pressure_candidates(take: Take, lay: LayReading, picture: bool, friction: bool = False) -> Iterator[Candidate]:
    """The answer to one way to read the lay, or the one thing that must be asked first."""
    context = take.span.context
    command = PumpPressure(lay.lays, lay.intake_psi, picture, friction)
    called = any(supplies(take.span, i) for i in take.span.kinds("line")) or any(
        take.span.items[i].text in _SUPPLY_LINE for i in range(take.span.lo, take.span.hi)
    )
    each = _flow_each(take.span)
    commands = parted(context, command, called, each)
    intent = commands[0].intent if lay.odd_size is None else PumpPressure.intent
    if lay.one_ft is not None:
        take.notes.append(f"one line of {Sayer(context.wording).feet(lay.one_ft)}")
    if any(isinstance(one, SupplyPressure) for one in commands) and take.span.has("ldh"):
        take.notes.append(f"LDH: {Sayer(context.wording).size(ldh_in(context))} hose")
    if lay.wrong is not None:
        yield take.declining(lay.wrong, intent, lay.cost + 0.05)
    elif lay.unknown_name or lay.family:
        yield take.asking(which_line(take.span, lay.family), intent, lay.cost + 0.05)
    elif lay.missing is not None and len(commands) == 1 and isinstance(commands[0], SupplyPressure):
        yield take.reading(*commands, cost=lay.cost)  # its handler asks for what is missing
    elif lay.missing is not None:
        yield take.asking(missing_question(take.span, command, lay.missing), intent, lay.cost + _lack(lay))
    elif (
        doubt := (None if each else each_or_all(context, command)) or doubtful_lay(take.span, command, lay)
    ) is not None:
        yield take.asking(doubt, intent, lay.cost + (0.05 if lay.total_or_each else 0.0))
    else:
        yield take.reading(*commands, cost=lay.cost)


def _flow_each(span: Span) -> bool:
    """ "1,000 gpm each": right behind the flow."""
    return any(
        "each" in span.items[i + 1].concepts and span.items[i].unit in ("gpm", "lpm", "gal")
        for i in span.kinds("num")
        if i + 1 < span.hi
    )


def doubtful_lay(span: Span, command: PumpPressure, lay: LayReading) -> Question | None:
    """What must be asked of a lay that was said whole: its size, its height, a bare number, a count."""
    if lay.odd_size is not None:
        return _size_question(span, command, lay.odd_size)
    if lay.floor_asked:
        return _floor_question(command)
    if lay.rise_asked:
        return _rise_question(command, Sayer(span.context.wording))
    if lay.bare_at:
        return _at_question(span, command)
    if lay.twice:
        choices = tuple(
            Choice(" + ".join(lay_words(one, span.context.wording) for one in way), (replace(command, lays=way),))
            for way in (command.lays, lay.twice)
        )
        return Question("Two were said of one line. Which is it?", choices)
    if lay.or_else:
        return _count_question(command, lay.or_else, span.context.wording)
    if span.has("low_pressure") and not any(x.nozzle.nozzle_psi for one in command.lays for x in one.lines):
        return _nozzle_question(command, Sayer(span.context.wording))
    return _total_question(span, command) if lay.total_or_each else None


def _lack(lay: LayReading) -> float:
    """What an incomplete lay costs, beside a complete one."""
    assert lay.missing is not None
    return 0.18 if lay.missing.slot == "hose" else 0.12


# ------------------------------------------------------------------------------------------------------------ questions


def which_line(span: Span, family: Iterable[str] = ()) -> Question:
    """Which line of the rig is meant."""
    keys = tuple(family) or tuple(line.key for line in span.context.rig_lines)
    names = {line.key: line.names[0] for line in span.context.rig_lines}
    choices = tuple(
        Choice(names.get(key, key), (PumpPressure((SaidLay(lines=(SaidLine(name=key),)),)),)) for key in keys[:6]
    )
    return Question(
        "Which line? Say its name, or its hose and length.",
        choices,
        fills=PumpPressure((SaidLay(lines=(SaidLine(),)),)),
        slot="line",
    )


_LENGTHS = (100.0, 150.0, 200.0, 250.0, 300.0)
_LENGTHS_M = (20.0, 40.0, 60.0, 80.0, 100.0)


def missing_question(span: Span, command: PumpPressure, missing: Missing) -> Question:
    """Asks for the one slot that a lay lacks."""
    lay = command.lays[missing.lay]
    what, say = lay_words(lay, span.context.wording), Sayer(span.context.wording)
    texts = {
        "feed": f"What feeds the {lay.split}? Say its hose and length.",
        "feed_length_ft": f"How many {say.length_unit} feed the {lay.split}?",
        "feed_hose_in": f"What size is the hose to the {lay.split}?",
        "legs": f"Which lines come off the {lay.split}? Say hose and length.",
        "hose": f"Which hose, and how many {say.length_unit}? ({what})",
        "hose_in": f"What size is the hose? ({what})",
        "length_ft": f"How long is the hose? ({what})",
        "flow_gpm": f"How much does {what} flow?",
    }
    options: list[tuple[str, float]] = []
    if missing.slot in ("hose_in", "feed_hose_in"):
        options = _sizes(span, [size for size in span.context.hose_in if 1.49 <= size <= 3])[:5]
    elif missing.slot in ("length_ft", "feed_length_ft"):
        metric = span.context.units == "metric"
        lengths = [metres / 0.3048 for metres in _LENGTHS_M] if metric else _LENGTHS
        options = [(say.feet(feet), feet) for feet in lengths]
    choices = tuple(Choice(label, (fill(command, missing, value),)) for label, value in options)
    return Question(texts[missing.slot], choices, fills=command, slot=missing.slot)


def _sizes(span: Span, sizes: Sequence[float]) -> list[tuple[str, float]]:
    """Sizes as they are called, each once: the rig's own of a size before the book's."""
    own = set(span.context.own_hose_in)
    called: dict[str, float] = {}
    for size in sorted(sizes, key=lambda size: size not in own):
        called.setdefault(Sayer(span.context.wording).size(size), size)
    return sorted(called.items(), key=lambda pair: pair[1])


def fill(command: PumpPressure, missing: Missing, value: float) -> Command:
    """The command with its missing size, length or flow filled in wherever that is missing."""
    lays = list(command.lays)
    lay = lays[missing.lay]
    match missing.slot:
        case "feed_hose_in":
            lay = replace(lay, feed=(replace(lay.feed[0], hose_in=value), *lay.feed[1:]))
        case "feed_length_ft":
            lay = replace(lay, feed=(replace(lay.feed[0], length_ft=value), *lay.feed[1:]))
        case "flow_gpm":
            lines = tuple(replace(line, nozzle=replace(line.nozzle, flow_gpm=value)) for line in lay.lines)
            lay = replace(lay, lines=lines)
        case _:
            lay = replace(lay, lines=tuple(_fill_hose(line, missing.slot, value) for line in lay.lines))
    lays[missing.lay] = lay
    return replace(command, lays=tuple(lays))


def _fill_hose(line: SaidLine, slot: str, value: float) -> SaidLine:
    hose = line.hose or (SaidHose(),)
    return replace(line, hose=tuple(replace(h, **{slot: value}) if getattr(h, slot) is None else h for h in hose))


def _size_question(span: Span, command: PumpPressure, size: float) -> Question:
    known = sorted(_sizes(span, span.context.hose_in), key=lambda pair: abs(pair[1] - size))[:3]
    choices = tuple(Choice(label, (_with_size(command, size, h),)) for label, h in known)
    text = f"{Sayer(span.context.wording).size(size)} isn't a hose that this rig's file knows. Which size is it?"
    return Question(text, choices, fills=_with_size(command, size, None), slot="hose_in")


def _with_size(command: PumpPressure, old: float, new: float | None) -> PumpPressure:
    def swap(hose: tuple[SaidHose, ...]) -> tuple[SaidHose, ...]:
        return tuple(replace(h, hose_in=new) if h.hose_in == old else h for h in hose)

    lays = tuple(
        replace(lay, feed=swap(lay.feed), lines=tuple(replace(line, hose=swap(line.hose)) for line in lay.lines))
        for lay in command.lays
    )
    return replace(command, lays=lays)


def _floor_question(command: PumpPressure) -> Question:
    def at(floor: int) -> Command:
        lays = tuple(
            replace(lay, lines=tuple(replace(line, floor=floor) for line in lay.lines)) for lay in command.lays
        )
        return replace(command, lays=lays)

    place = next((line.place for lay in command.lays for line in lay.lines if line.place), None)
    text = f"Which floor is the {place}?" if place else "Which floor?"
    return Question(
        text, (Choice("second floor", (at(2),)), Choice("third floor", (at(3),))), fills=command, slot="floor"
    )


def _rise_question(command: PumpPressure, say: Sayer) -> Question:
    lays = tuple(replace(lay, lines=tuple(replace(line, rise_ft=0.0) for line in lay.lines)) for lay in command.lays)
    unit = say.length_unit
    return Question(
        f"How many {unit} up or down? Say it like “{10 if say.wording.metric else 30} {unit} up”.",
        (Choice("level with the pump", (replace(command, lays=lays),)),),
        fills=command,
        slot="rise_ft",
    )


def _at_question(span: Span, command: PumpPressure) -> Question:
    """ "Crosslay one at 200": gpm at the nozzle, or psi at the pump."""
    flow = next(line.nozzle.flow_gpm for lay in command.lays for line in lay.lines if line.nozzle.flow_gpm is not None)
    bare = tuple(
        replace(lay, lines=tuple(replace(line, nozzle=replace(line.nozzle, flow_gpm=None)) for line in lay.lines))
        for lay in command.lays
    )
    say = Sayer(span.context.wording)
    number = next((span.items[i] for i in span.kinds("num") if in_unit(span.items[i], "gpm", None) == flow), None)
    psi = (in_unit(number, "psi", None) if number is not None else None) or flow
    return Question(
        f"At {say.gpm(flow)}, or {say.psi(psi)} at the pump?",
        (Choice(say.gpm(flow), (command,)), Choice(say.psi(psi), (FlowAtPressure(bare, psi),))),
    )


_LOW_PSI = (50.0, 75.0)
"""Rated pressures of low-pressure fog nozzles, psi (common practice)."""


def _nozzle_question(command: PumpPressure, say: Sayer) -> Question:
    """ "Low pressure fog": how low?"""

    def at(psi: float) -> PumpPressure:
        lays = tuple(
            replace(one, lines=tuple(replace(x, nozzle=replace(x.nozzle, nozzle_psi=psi)) for x in one.lines))
            for one in command.lays
        )
        return replace(command, lays=lays)

    choices = tuple(Choice(say.psi(psi), (at(psi),)) for psi in _LOW_PSI)
    return Question("At what nozzle pressure?", choices, fills=command, slot="nozzle_psi")


def _count_question(command: PumpPressure, or_else: tuple[SaidLay, ...], wording: Wording) -> Question:
    """ "Two lines, 200 feet of 1.75 and 250 of 2.5": two in all, or two of the first?"""
    ways = (or_else, command.lays)
    choices = tuple(
        Choice(" + ".join(lay_words(lay, wording) for lay in way), (replace(command, lays=way),)) for way in ways
    )
    return Question("Which lines are there?", choices)


def _total_question(span: Span, command: PumpPressure) -> Question:
    flow = next(line.nozzle.flow_gpm for lay in command.lays for line in lay.lines if line.nozzle.flow_gpm is not None)
    gpm = Sayer(span.context.wording).gpm(flow)
    return Question(
        f"Is {gpm} the total, or each line's?",
        (
            Choice(f"{gpm} in all", (replace(command, lays=with_total(command.lays)),)),
            Choice(f"{gpm} each", (command,)),
        ),
    )
