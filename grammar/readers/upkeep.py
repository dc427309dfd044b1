"""What is made of a code to join an incident, or of the wish for one (declared in language/station.toml)."""

from __future__ import annotations

import re

from msgspec.structs import replace

from grammar.commands import Join
from grammar.costs import LIKELY, SURE, UNSURE
from grammar.frames import then
from grammar.readers.base import Candidate, Take
from grammar.vocabulary import word_list

_CODE = r"(?:\s+(?:{between}))*[\s:#]+(?P<code>(?=[a-z0-9]{{4,8}}\b)(?=[a-z0-9]*\d)[a-z0-9]+)\b"


@then
def join_or_code(take: Take, command: Join) -> Candidate | None:
    """ "join code for engine 9" makes one, "join 4F7K2" joins by it."""
    span, said = take.span, take.span.said.casefold()
    named = {word for i in span.where("join_code") for word in span.items[i].text.split()} & word_list("join_codes")
    around = {word for item in span.items[span.lo : span.hi] for word in item.text.split()}
    joins = sorted((word for word in word_list("join_verbs") if word in said), key=len, reverse=True)
    if named and around.isdisjoint(word_list("join_beside")):
        return None
    code = _CODE.format(between="|".join(word_list("join_between")))
    match = re.match(code, said.split(joins[0], 1)[-1]) if joins and command.unit is None else None
    if match is not None:
        take.mark(*range(span.lo, span.hi))
        return take.reading(Join(code=match["code"].upper()), cost=LIKELY)
    return take.reading(replace(command, make=bool(named)), cost=SURE if named or command.unit else UNSURE)
