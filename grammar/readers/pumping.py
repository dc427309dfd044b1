"""Reads a lay whose pressure is asked for: a bare lay or line name asks and starts nothing (convention 1)."""

from __future__ import annotations

from collections.abc import Iterable, Iterator

from grammar.commands import PumpPressure, PumpStatus, Question, SaidLine, SupplyPressure
from grammar.costs import FAIR, HARDLY, LIKELY, UNSURE, WEAK
from grammar.doubt import idle
from grammar.lexicon import sentence
from grammar.readers.base import Candidate, Span, Take, reads
from grammar.readers.lay_questions import doubtful_lay, missing_question, which_line
from grammar.readers.layout import LayReading, read_lays, whichever
from grammar.readers.others_lines import others_unit, whose_question
from grammar.readers.signs import doubts, met, word_list
from grammar.readers.supply_lay import each_or_all, ldh_in, parted
from grammar.saying import Sayer
from grammar.spared import names_no_line, places

LAY_TRIGGERS = (
    "is:num", "is:line", "is:family", "is:floor", "crosslay", "deck_gun", "monitor", "aerial", "standpipe", "sprinkler",
    "high_rise_pack", "booster", "big_line", "wye", "eductor", "ask_pressure",
)  # fmt: skip


@reads(*LAY_TRIGGERS)
def read_pressure(span: Span) -> Iterable[Candidate]:
    """ "two lines, 200 feet, 1.75, second floor", "crosslay one", "what do I pump for …"."""
    if met("hose_taken_off", span):
        take = Take(span, *range(span.lo, span.hi))
        yield take.declining(sentence("say_whole_length"), PumpPressure.intent, HARDLY)
        return
    asked = span.has("ask_pressure")
    for said in read_lays(span):
        lay = whichever(said)
        other_of_family = span.has("other") and said.family and span.context.last
        if lay.pump_psi is None and not other_of_family and (asked or _worth(span, lay)):
            yield from _pressure(span, lay)
    if asked and not span.kinds("num", "line", "family", "floor"):
        yield from _of_nothing(span)


def _of_nothing(span: Span) -> Iterator[Candidate]:
    """A pressure is asked for and nothing is told: what is pumped now, or which line?"""
    take = Take(span, *span.where("ask_pressure"))
    take.terms(*word_list("lay_asks"))
    own = met("asks_own", span) and met("a_line_on", span)
    if own:
        yield take.reading(PumpStatus(), cost=HARDLY)  # "what's my pressure": as it pumps now
    yield take.asking(which_line(span), PumpPressure.intent, UNSURE if own else WEAK)


def _pressure(span: Span, lay: LayReading) -> Iterator[Candidate]:
    """One way to read the lay, with what speaks against it."""
    take = Take(span)
    take.used = lay.used
    take.terms(*word_list("lay_asks"), *(() if span.context.last else ("what_about",)))
    take.mark(*(i for i in take.open() if span.items[i].text in word_list("lay_wishes") and not span.items[i].slip))
    picture, friction = span.has("show"), _friction(span, take)
    take.cost += doubts("pressure", span) + _beside_a_name(span, take, lay)
    other, extra = others_unit(span), 0.0
    if other >= 0:
        take.mark(other)
        unit, extra = str(span.items[other].value), FAIR
        if (whose := whose_question(unit, lay.lays, Sayer(span.context.wording))) is not None:
            yield take.asking(whose, PumpPressure.intent, lay.cost + extra)
            return
        take.notes.append(sentence("others_lay", unit=unit))
    take.cost += extra
    yield from _answer_or_question(take, lay, picture, friction)


def _beside_a_name(span: Span, take: Take, lay: LayReading) -> float:
    """A word beside the bare names of lines is likely what is done to them."""
    lines = [line for one in lay.lays for line in one.lines]
    if span.has("ask_pressure") or any(not line.name or line != SaidLine(name=line.name) for line in lines):
        return 0.0
    told, items = places(span.items, span.lo, span.hi), span.items
    unread = [i for i in take.open() if items[i].kind in ("word", "term") and not items[i].free and i not in told]
    return WEAK * sum(not idle(items[i]) and not names_no_line(items, span.lo, i) for i in unread)


def _friction(span: Span, take: Take) -> bool:
    """ "Friction loss in 200 feet of 2½ at 250 gpm": a part of the answer, which shows each hose's."""
    if not met("asks_friction", span):
        return False
    take.mark(*(i for i in span.where("lost_psi", "supply_loss") if met("friction_word", span, i)))
    take.free(*word_list("lay_only"))
    return True


def _worth(span: Span, lay: LayReading) -> bool:
    """A length or a floor alone is no lay unless a pressure was asked for."""
    told = span.has("line", "legs", "of_hose", "stretch", "through")
    lines = [line for one in lay.lays for line in one.lines]
    split = any(one.split and (one.feed or one.lines) for one in lay.lays)
    return bool(lay.unknown_name or lay.family or split) or any(_line_told(line, told) for line in lines)


def _line_told(line: SaidLine, told: bool) -> bool:
    if line.name or line.device or any(h.hose_in is not None for h in line.hose):
        return True
    raised = line.floor is not None
    return bool(line.hose and (told or raised)) or (line.nozzle.flow_gpm is not None and raised)


def _answer_or_question(take: Take, lay: LayReading, picture: bool, friction: bool) -> Iterator[Candidate]:
    """The answer to one way to read the lay, or the one thing that must be asked first."""
    span, context = take.span, take.span.context
    command = PumpPressure(lay.lays, lay.intake_psi, picture, friction)
    each = met("flow_each", span)
    commands = parted(context, command, met("supply_line_said", span), each)
    supply = [one for one in commands if isinstance(one, SupplyPressure)]
    intent = commands[0].intent if lay.odd_size is None else PumpPressure.intent
    take.notes += _notes(span, lay, bool(supply))
    if lay.wrong is not None:
        yield take.declining(lay.wrong, intent, lay.cost + LIKELY)
    elif lay.unknown_name or lay.family:
        yield take.asking(which_line(span, lay.family), intent, lay.cost + LIKELY)
    elif lay.missing is not None and not (supply and len(commands) == 1):  # that handler asks for what is missing
        yield take.asking(missing_question(span, command, lay.missing), intent, lay.cost + WEAK)
    elif lay.missing is None and (doubt := _doubt(span, command, lay, each)) is not None:
        yield take.asking(doubt, intent, lay.cost + (LIKELY if lay.total_or_each else 0.0))
    else:
        yield take.reading(*commands, cost=lay.cost)


def _notes(span: Span, lay: LayReading, supply: bool) -> Iterator[str]:
    """What was taken to be meant."""
    say = Sayer(span.context.wording)
    if lay.one_ft is not None:
        yield sentence("one_line_of", feet=say.feet(lay.one_ft))
    if supply and span.has("ldh"):
        yield sentence("ldh_is", size=say.size(ldh_in(span.context)))


def _doubt(span: Span, command: PumpPressure, lay: LayReading, each: bool) -> Question | None:
    return (None if each else each_or_all(span.context, command)) or doubtful_lay(span, command, lay)
