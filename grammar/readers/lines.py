"""Reads lines that are charged or flowing."""

from __future__ import annotations

from collections.abc import Iterable, Iterator

import msgspec

from grammar.commands import (
    Choice,
    Command,
    FlowAtPressure,
    LineOff,
    LineOn,
    LineRef,
    LineSeen,
    PumpPressure,
    Question,
    Request,
    SaidLay,
    SaidLine,
    Status,
    Undo,
)
from grammar.describe import several
from grammar.items import Item
from grammar.readers.base import Candidate, Span, Take, place_of, reads
from grammar.readers.lay_questions import doubtful_lay, missing_question
from grammar.readers.layout import LayReading, read_lays
from grammar.saying import Sayer
from grammar.vocabulary import word_list

replace = msgspec.structs.replace


_ON = ("charge", "charged_state", "open", "flow_on")


_AROUND = ("for_noise", "through", "line", "of_hose", "each", "show")


def lines_meant(span: Span, take: Take) -> Iterator[tuple[LineRef, float]]:
    """Which working line is meant, likeliest first; what says so is taken."""
    items = span.items
    for i in span.kinds("line"):
        if not take.taken(i):
            take.mark(i)
            yield LineRef(name=str(items[i].value)), 0.0
            return
    for stream in streams_seen(span):
        take.terms(str(stream.device), "line")
        yield exactly(stream), 0.0
        return
    if take.term("all_lines") >= 0:
        take.terms("line", "last_one")
        yield LineRef(all=True), 0.0
        return
    order = _order(span, take)
    if order is not None:
        yield LineRef(order=order), 0.0
        return
    hose = _hose(span, take)
    if hose is not None:
        take.terms("line")
        yield LineRef(hose_in=hose), 0.0
        return
    for i in span.kinds("floor", "place"):
        near_line = any("line" in items[k].concepts for k in range(max(i - 4, span.lo), min(i + 3, span.hi)))
        if near_line and not take.taken(i):
            take.mark(i)
            take.terms("line")
            yield LineRef(place=place_of(items[i])), 0.02
            return
    if take.term("other") >= 0:
        take.terms("line", "last_one", "crosslay")
        for i in span.kinds("family"):
            take.mark(i)
        yield LineRef(other=True), 0.02
        return
    if take.terms("last_one", "line"):
        yield LineRef(), 0.03


def streams_seen(span: Span) -> list[LineSeen]:
    """The one master stream of this incident that is spoken of: "ladder pipe shut down", "the monitor's flowing"."""
    for device in ("aerial", "monitor"):
        same = [line for line in span.context.lines if line.device == device]
        if span.has(device) and len(same) == 1:
            return same
    return []


def called(span: Span, line: LineSeen) -> str:
    """What a line is called in a choice: by its name, else by its hose, length and place."""
    if line.name is not None:
        names = {carried.key: carried.names[0] for carried in span.context.rig_lines}
        return names.get(line.name, line.name.replace("_", " "))
    say = Sayer(span.context.wording)
    size = f"{say.size(line.hose_in)} line" if line.hose_in else (line.device or f"line {line.seq}")
    parts = [size, say.feet(line.length_ft) if line.length_ft else "", line.place or ""]
    return ", ".join(part for part in parts if part)


def exactly(line: LineSeen) -> LineRef:
    """A reference that means this line and no other."""
    return LineRef(name=line.name) if line.name else LineRef(seq=line.seq)


def _order(span: Span, take: Take) -> int | None:
    for i in span.kinds("num"):
        item = span.items[i]
        after = span.items[i + 1] if i + 1 < span.hi else None
        before = span.items[i - 1] if i > span.lo else None
        if item.form == "ordinal" and after is not None and after.concepts & {"line", "last_one"}:
            take.mark(i, i + 1)
            return int(item.number)
        if (
            item.form == "int"
            and before is not None
            and "line" in before.concepts
            and item.unit is None
            and item.number < 12
        ):
            take.mark(i, i - 1)
            return int(item.number)
    return None


def _hose(span: Span, take: Take) -> float | None:
    for i in span.kinds("num"):
        item = span.items[i]
        sized = item.unit == "in" or (item.unit is None and "hose_said" in item.concepts)
        after = span.items[i + 1] if i + 1 < span.hi else None
        if sized and not take.taken(i) and not (after is not None and after.concepts & {"tip", "nozzle"}):
            take.mark(i)
            return item.number
    return None


@reads(*_ON)
def read_line_on(span: Span) -> Iterable[Candidate]:
    """ "charge crosslay one", "crosslay two is flowing", "charge 200 feet of inch and three quarter", "charge it"."""
    for i in _verbs(span):
        if _starts_over(span, i) or (not span.has("charge", "charged_state") and held_is_meant(span)):
            continue
        if "open" in span.items[i].concepts and any(line.on and line.gated for line in _named(span)):
            continue  # its gate is opened: readers/nozzle_state.py
        if charged_already(span):
            continue
        stance = span.stance(i)
        if any(span.items[k].text in ("keep", "keeping") for k in range(i)):
            take = Take(span, *span.content())
            yield take.declining("Nothing was changed: that says to keep it as it is.", LineOn.intent, 0.03)
        elif stance == "asked":
            yield from _asked_on(span, i)
        elif stance != "said" and not _request(span, i, stance):
            yield from _not_on(span, i, stance)
        else:
            yield from _on(span, i)


def _named(span: Span) -> list[LineSeen]:
    named = {str(span.items[i].value) for i in span.kinds("line")}
    return [line for line in span.context.lines if line.name in named]


def charged_already(span: Span) -> bool:
    """ "Charged, nozzle's shut", no line named: of a line that is on."""
    named = span.kinds("line", "family", "num") or span.has("crosslay")
    told = [span.items[i].text for i in span.where("charge", "charged_state")]
    return bool(told) and told[0].startswith("charged") and not named and span.has(*HOLDS) and bool(span.context.lines)


def held_is_meant(span: Span) -> bool:
    """ "Crosslay one flowing", or just "flowing", while that line is charged with its nozzle shut."""
    named = {str(span.items[i].value) for i in span.kinds("line")}
    if not named and len(span.content()) > 1:
        return False
    held = [line.name for line in span.context.lines if line.on and line.held]
    return bool(named.intersection(name for name in held if name) if named else held)


_THE_SAME = ("it", "they", "both", "that", "she", "both of them", "all")
"""What stands for the lines told before."""


_IS = ("s", "is", "are", "now", "re")


def _starts_over(span: Span, i: int) -> bool:
    """ "Two lines second floor, and charge crosslay one", "crosslay one flowing and 200 feet of …": two things."""

    def lines(lo: int, hi: int) -> bool:
        return any(span.items[k].kind == "line" or span.items[k].unit in ("ft", "m") for k in range(lo, hi))

    def pause(k: int) -> bool:
        return span.lo <= k < span.hi and (span.items[k].kind == "sep" or "and" in span.items[k].concepts)

    verb = span.items[i]  # "start" is an order to whatever follows it
    if any(span.items[k].polarity - verb.polarity - verb.concepts for k in span.kinds("line")):
        return True  # "charge the deck gun, and hold off on crosslay two"
    before = next((span.items[k].text for k in range(i - 1, span.lo - 1, -1) if span.items[k].text not in _IS), "")
    pronoun = verb.text.split()[0] in _THE_SAME or before in _THE_SAME
    if pronoun and not lines(i + 1, span.hi):
        return False  # "they pulled the rear line to Charlie and it's flowing"
    pulled = list(span.where("pull"))
    if pulled and any(pause(k) for k in range(min(pulled[0], i) + 1, max(pulled[0], i))):
        return True  # "pulling crosslay two and the deck gun is flowing"
    return (pause(i - 1) or pause(i + 1)) and lines(span.lo, i) and lines(i + 1, span.hi)


def _verbs(span: Span) -> list[int]:
    strong = list(span.where("charge", "charged_state"))
    lineless = not (span.kinds("line", "family", "num") or span.has("line", "crosslay", "last_one"))
    strong = [i for i in strong if not (lineless and span.items[i].text.startswith("water"))]
    if lineless and span.has("hydrant_word", "feed", "supply_word"):
        return []
    if strong:
        return strong[:1]
    found = []
    for i in span.where("open", "flow_on"):
        item = span.items[i]
        after = span.items[i + 1] if i + 1 < span.hi else None
        flowing = after is not None and after.kind == "num" and item.text in ("flow", "flowing", "flowing at")
        flowing = flowing and not (
            after is not None and after.unit in ("ft", "m")
        )  # "flowing 300 feet of 1¾": the line is
        if flowing and (i != span.lo or not _count_follows(span, i)):
            continue  # "flowing 150": a flow, not an order (convention 4)
        if item.text == "on" and _closes(span, i):
            found.append(i)
        if item.text in ("going", "working", "in service", "operating") and _at_work(span, i):
            found.append(i)
        if item.text in ("on", "going", "working", "in service"):
            continue
        if (
            item.text in ("is on", "are on", "on")
            and after is not None
            and (after.text == "the" or after.kind in ("floor", "place"))
        ):
            continue  # where it is, not that it flows
        if item.text in ("flowing", "flow") and after is not None and after.kind == "floor" and _many(after):
            continue  # "flowing sixty fourth floor": the number is the flow's
        pointed = span.kinds("line", "family") or span.has("line", "crosslay", "last_one") or streams_seen(span)
        sized = any(
            "hose_said" in span.items[k].concepts or span.items[k].unit in ("in", "ft") for k in span.kinds("num")
        )
        if not (pointed or sized) or (
            item.text in word_list("lines_weak") and not (span.kinds("line", "family") or span.has("line"))
        ):
            continue
        found.append(i)
    return found[:1]


def _many(floor: Item) -> bool:
    """More floors than most buildings have: "flowing sixty, fourth floor"."""
    return isinstance(floor.value, int) and floor.value > _TALL


_TALL = 20
_WEAK_BESIDE = ("s", "both", "all", "now", "is", "are")


def _at_work(span: Span, i: int) -> bool:
    """ "Deck pipe's working", "bumper's going on the rubbish": right behind a line's name, and nothing is asked."""
    if span.has("ask_pressure", "ask_flow", "tank_time", "can_add", "what_if_shut", "pumping_what"):
        return False
    k = i - 1
    while k > span.lo and span.items[k].text in _WEAK_BESIDE:
        k -= 1
    after = span.items[i + 1] if i + 1 < span.hi else None
    ends = after is None or after.kind in ("sep", "floor", "place") or "whereabouts" in after.concepts
    return k >= span.lo and span.items[k].kind in ("line", "family") and ends


def _closes(span: Span, i: int) -> bool:
    """ "crosslay two on"; nothing follows."""
    return i > span.lo and span.items[i - 1].kind == "line" and (i + 1 == span.hi or span.items[i + 1].kind == "sep")


def _count_follows(span: Span, i: int) -> bool:
    """ "flowing two lines …"."""
    items = span.items
    return any("line" in items[k].concepts for k in range(i + 2, min(i + 4, span.hi)))


def _request(span: Span, i: int, stance: str) -> bool:
    """ "can you charge crosslay one", "give me water on …"."""
    return stance == "ordered" or span.items[span.lo].text in ("can", "could", "would", "will")


def _on(span: Span, i: int) -> Iterator[Candidate]:
    for candidate in _on_something(span, i):
        allowed = [k for k in range(span.lo + 1, i) if span.items[k].text == "can" and span.items[k - 1].text == "you"]
        cost = candidate.cost + (0.3 if span.items[i].text == "on" else 0.0)
        yield candidate._replace(cost=cost, used=candidate.used | sum(1 << k for k in allowed))


def _on_something(span: Span, i: int) -> Iterator[Candidate]:
    if not span.kinds("num", "family") and not span.has("crosslay"):
        yield from _on_known(span, i)
        return
    for lay in read_lays(span):
        yield from _on_lay(span, i, lay)
    if span.has("last_one", "other"):
        yield from _on_known(span, i)


def _on_known(span: Span, i: int) -> Iterator[Candidate]:
    take = Take(span, i)
    take.terms("order", *_ON, *HOLDS)
    if span.kinds("line") and span.kinds("floor", "place"):
        for lay in read_lays(span):
            yield from _on_lay(span, i, lay)
        return
    names = span.kinds("line")
    if len(names) > 1:
        take.mark(*names)
        take.terms("and", "into", *_AROUND)
        yield from now(span, take, tuple(LineOn(ref=LineRef(name=str(span.items[k].value))) for k in names), 0.0)
        return
    for ref, cost in lines_meant(span, take):
        take.terms(*_AROUND)
        if (ref.name is None and not span.context.lines) or ref == LineRef():
            yield from _charge_last(span, take, cost)
        else:
            yield from now(span, take, (LineOn(ref=ref),), cost)
        return
    only = [k for k in span.content() if k != i and not take.taken(k)]
    if not only:
        yield from _charge_last(span, take, 0.08)


def _charge_last(span: Span, take: Take, cost: float) -> Iterator[Candidate]:
    """ "charge it": the lay that was last asked for."""
    asked = next((c for c in reversed(span.context.last) if isinstance(c, PumpPressure)), None)
    if asked is None:
        if ordered_by_crew(span, take):
            yield take.reading(Request(text=said_words(span)), cost=cost)
        else:
            yield take.asking(which_line_on(span), LineOn.intent, cost + 0.05)
        return
    yield from now(span, take, tuple(line_on(lay) for lay in asked.lays), cost)


def line_on(lay: SaidLay) -> LineOn:
    """A lay put on: by its name when only that was said."""
    if not lay.feed and len(lay.lines) == 1:
        line = lay.lines[0]
        if line.name is not None and line == SaidLine(name=line.name):
            return LineOn(ref=LineRef(name=line.name))
    return LineOn(lay=lay)


def _on_lay(span: Span, i: int, lay: LayReading) -> Iterator[Candidate]:
    take = Take(span, i)
    take.used |= lay.used
    take.terms("order", *_ON, *_AROUND)
    if lay.pump_psi is not None:
        return
    if lay.intake_psi is not None:
        take.cost += 0.5  # a gauge's reading is a report of its own
    if lay.wrong is not None:
        yield take.declining(lay.wrong, LineOn.intent, lay.cost)
    elif lay.unknown_name or lay.family:
        yield take.asking(which_line_on(span, lay.family), LineOn.intent, lay.cost + 0.05)
    elif lay.missing is not None:
        question = missing_question(span, PumpPressure(lay.lays), lay.missing)
        choices = tuple(Choice(c.label, _charged(c.commands)) for c in question.choices)
        yield take.asking(
            Question(question.text, choices, LineOn(lay=lay.lays[0]), question.slot), LineOn.intent, lay.cost + 0.35
        )
    elif (doubt := doubtful_lay(span, PumpPressure(lay.lays), lay)) is not None:
        choices = tuple(Choice(c.label, _charged(c.commands)) for c in doubt.choices)
        fills = LineOn(lay=lay.lays[0]) if doubt.fills is not None else None
        yield take.asking(Question(doubt.text, choices, fills, doubt.slot), LineOn.intent, lay.cost)
    else:
        yield from now(span, take, tuple(line_on(one) for one in lay.lays), lay.cost)


def _charged(commands: tuple[Command, ...]) -> tuple[Command, ...]:
    return tuple(line_on(lay) for c in commands if isinstance(c, PumpPressure | FlowAtPressure) for lay in c.lays)


HOLDS = ("nozzle_shut", "nobody_flows", "hold_water", "stands_by")
"""What says of a line that is charged that nothing flows from it."""


def now(span: Span, take: Take, commands: tuple[LineOn | LineOff, ...], cost: float) -> Iterator[Candidate]:
    """The lines on or off now; a stated time is asked about, as a line's clock starts when it is said.

    What the crew orders of the pump is a request; with its nozzle shut a line is charged and no more.
    """
    if span.has(*HOLDS):
        take.terms(*HOLDS, "nozzle", "and")
        commands = tuple(replace(one, held=True) if isinstance(one, LineOn) else one for one in commands)
    if ordered_by_crew(span, take):
        take.terms("hope", "order")
        yield take.reading(Request(text=said_words(span), wants=commands), cost=cost)
        return
    if not span.kinds("time"):
        yield take.reading(*commands, cost=cost)
        return
    take.mark(*span.kinds("time"))
    what = several(commands, span.context.wording)
    question = Question(
        f"A line's time can't be given afterwards. Take it as {what} now?", (Choice("yes", commands), Choice("no"))
    )
    yield take.asking(question, commands[0].intent, cost)


def said_words(span: Span) -> str:
    """The stretch in the words that were said."""
    return span.text()


def ordered_by_crew(span: Span, take: Take) -> bool:
    """Whether the crew asks it of the pump ("charge crosslay one", "more pressure"), not reports it as done."""
    if span.context.role != "crew":
        return False
    for i in range(span.lo, span.hi):
        item = span.items[i]
        if item.kind == "line" or item.text.split()[0] in ("have", "got", "has", "is", "are"):
            return False
        verb = take.taken(i) and item.kind == "term" and item.concepts.isdisjoint(_BESIDE_A_VERB)
        if verb or "more_pressure" in item.concepts or "less_pressure" in item.concepts:
            return item.text.split()[0] in word_list("lines_orders") or "order" in item.polarity
    return False


_BESIDE_A_VERB = frozenset(("free", "line", "last_one", "other", "all_lines", "for_noise", "hope", "order", "ask"))


def _asked_on(span: Span, i: int) -> Iterator[Candidate]:
    take = Take(span, i)
    take.mark(*span.kinds("line", "family"))
    take.terms("line", "last_one", "hope", "order", "for_noise", "flow_on", "pumping_what")
    if span.items[span.lo].text in ("should",) or span.has("ask_pressure"):
        for lay in read_lays(span):
            if lay.missing is None and not lay.unknown_name and not lay.family:
                inner = Take(span, i)
                inner.used |= lay.used
                inner.terms("hope", "order", *_AROUND, "ask_pressure", "charge")
                yield inner.reading(PumpPressure(lay.lays), cost=lay.cost + 0.1)
        return
    yield take.reading(Status(about="lines"), cost=0.05)


def _not_on(span: Span, i: int, stance: str) -> Iterator[Candidate]:
    take = Take(span, i)
    name = next((str(span.items[k].value) for k in span.kinds("line")), None)
    if stance == "denied" and name is not None and _reported_off(span, i, name):
        take.mark(*(k for k in range(span.lo, span.hi) if span.items[k].polarity_mark), *span.kinds("line"))
        take.terms("line", "last_one", *_ON)
        said = name.replace("_", " ")
        off = Choice(f"{said} is shut down now", (LineOff(LineRef(name=name)),))
        wrong = Choice("it was never on: take it back", (Undo(),)) if _last_on(span, name) else None
        choices = (off, *((wrong,) if wrong else ()), Choice("it stays on"))
        yield take.asking(Question(f"{said.capitalize()} is logged as on. What now?", choices), LineOff.intent, 0.02)
        return
    take.mark(
        *(k for k in range(span.lo, span.hi) if span.items[k].polarity_mark),
        *span.kinds("line", "family", "num", "floor"),
    )
    take.terms("line", "last_one", *_ON)
    what = "Nothing was charged: " + (
        "that says not to." if stance == "denied" else "that is still to come. Say “charged” when it is."
    )
    yield take.declining(what, LineOn.intent, 0.03)


def _reported_off(span: Span, i: int, name: str) -> bool:
    """ "Crosslay one is not charged" of a line that counts as flowing; "don't charge crosslay one" is an order."""
    return span.kinds("line")[0] < i and any(line.on and line.name == name for line in span.context.lines)


def _last_on(span: Span, name: str) -> bool:
    last = span.context.last[-1] if span.context.last else None
    return isinstance(last, LineOn) and last.ref is not None and last.ref.name == name


def which_line_on(span: Span, keys: Iterable[str] = ()) -> Question:
    """Which line to put on."""
    wanted = tuple(keys) or tuple(line.key for line in span.context.rig_lines)
    names = {line.key: line.names[0] for line in span.context.rig_lines}
    choices = tuple(Choice(names.get(k, k), (LineOn(ref=LineRef(name=k)),)) for k in wanted[:6])
    return Question("Which line is charged? Say its name, or its hose and length.", choices, LineOn(), "line")
