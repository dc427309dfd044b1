"""A lay of another company's: its lines aren't in our rig file, so what isn't said of them is asked."""

from __future__ import annotations

from grammar.commands import PumpPressure, Question, SaidLay, SaidLine
from grammar.readers.base import Span
from grammar.saying import Sayer


def others_unit(span: Span) -> int:
    """Where another company is named in the stretch; -1 when none is, or the message supplies it or speaks to it."""
    if span.has("supply_to", "feed", "relay", "from_hydrant", "supply_word", "supply_coming", "apart"):
        return -1
    own = {span.context.own_unit, span.context.speaker_unit}
    if span.has("aerial") and any(item.unit in ("ft", "m") for item in span.items):
        return -1  # "ladder pipe on truck 4 … and I have 200 of 3 inch to the truck"
    found = [i for i in span.kinds("unit") if span.items[i].value not in own and "crew" not in str(span.items[i].value)]
    supplied = len(found) == 1 and found[0] > span.lo and span.items[found[0] - 1].text in ("to", "to the", "into")
    return found[0] if len(found) == 1 and not supplied else -1


def whose_question(unit: str, lays: tuple[SaidLay, ...], say: Sayer) -> Question | None:
    """Asks for what our rig file would have to fill in; None where all was said."""
    if all(_whole(line) for lay in lays for line in lay.lines):
        return None
    text = (
        f"{unit.capitalize()}'s lines aren't in our rig file. What hose, how many {say.length_unit}, which tip or flow?"
    )
    return Question(text, (), PumpPressure((SaidLay(lines=(SaidLine(),)),)), "line")


def _whole(line: SaidLine) -> bool:
    nozzle = line.nozzle
    hose = line.hose and all(h.hose_in is not None and h.length_ft is not None for h in line.hose)
    return line.name is None and bool(hose) and (nozzle.tip_in is not None or nozzle.flow_gpm is not None)
