"""What is made of a building's size and of a tender's way: the rest of both is declared in language/rural.toml."""

from __future__ import annotations

from msgspec.structs import replace

from grammar.commands import Choice, NeededFlow, Question, Shuttle
from grammar.frames import then
from grammar.lexicon import sentence
from grammar.readers.base import Candidate, Span, Take
from grammar.saying import Sayer
from grammar.vocabulary import word_list

_FEET_PER_MILE = 5280


@then
def building_size(take: Take, command: NeededFlow) -> Candidate:
    """Stories said as a floor, one side beside an area; a number of two scales, an area of several floors are asked."""
    if command.area_ft2 is not None:
        command = replace(command, length_ft=None, width_ft=None, height_ft=command.height_ft or command.length_ft)
    if command.floors is None:
        command = replace(command, floors=_stories(take))
    say, number, area = Sayer(take.span.context.wording), command.construction_type, command.area_ft2
    if number is not None and not any(f"construction_type_{number}" in c for c in take.span.concepts):
        choices = (
            Choice(sentence("building_type", number=number), (command,)),
            Choice(sentence("iso_class", number=number), (_of_class(command, number),)),
        )
        return take.asking(Question(sentence("which_scale", number=number), choices), command.intent)
    if area is not None and (command.floors or 1) > 1 and not take.span.has("each", "footprint"):
        floors = command.floors or 1
        choices = (
            Choice(sentence("each_floor", area=say.area(area)), (command,)),
            Choice(sentence("in_all", said=say.area(area)), (replace(command, area_ft2=area / floors),)),
        )
        return take.asking(
            Question(sentence("whose_area", area=say.area(area), floors=floors), choices), command.intent
        )
    return take.reading(command)


def _of_class(command: NeededFlow, number: int) -> NeededFlow:
    return replace(command, construction_class=number, construction_type=None)


def _stories(take: Take) -> int | None:
    for i in take.span.kinds("floor"):
        value = take.span.items[i].value
        if not word_list("floors_counted").isdisjoint(take.span.items[i].text.split()) and isinstance(value, int):
            take.mark(i)
            return value
    return None


@then
def shuttle_way(take: Take, command: Shuttle) -> Candidate:
    """Whether a distance was said there and back; "three minutes on each end"; a compared lay's feet."""
    if take.span.has("each_end") and command.dump_min is None:
        command = replace(command, dump_min=command.fill_min)
    if command.compare and command.distance_mi is None and (feet := take.number("ft", "m")) is not None:
        command = replace(command, distance_mi=feet / _FEET_PER_MILE)
    if any(_is_tender(take.span, i) for i in take.span.kinds("unit")):
        take.unit()
    way = _way(take.span) if command.distance_mi is not None else None
    if way is not None:
        take.mark(way)
    both = way is not None and "round_trip" in take.span.items[way].concepts
    if way is not None and not both:
        miles = Sayer(take.span.context.wording).miles(command.distance_mi or 0.0)
        choices = (
            Choice(sentence("each_way"), (command,)),
            Choice(sentence("there_and_back"), (replace(command, round_trip=True),)),
        )
        return take.asking(Question(sentence("which_way", miles=miles), choices), command.intent)
    return take.reading(replace(command, round_trip=both))


def _way(span: Span) -> int | None:
    """Where a way is said that isn't beside minutes: "a twelve minute round trip" is a time."""
    for at in span.where("round_trip", "out_and_back"):
        near = [i for i in (at - 1, at - 2, at + 1, at + 2) if span.lo <= i < span.hi and span.items[i].kind == "num"]
        if not near or span.items[near[0]].unit not in ("min", "s"):
            return at
    return None


def _is_tender(span: Span, i: int) -> bool:
    return str(span.items[i].value).split()[0] in word_list("tenders")
