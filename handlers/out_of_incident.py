"""What a message asked out of any incident is answered: what it was read as, and that nothing came of it.

Handlers word their replies for a running incident ("Logged", "everyone is being told"). Out of one nothing is logged
and nobody told, so those claims are cut here, in one place, and the note that says so stands first.
"""

from __future__ import annotations

import re

from msgspec.structs import replace

from handlers.outcome import Outcome

RADIO = "Use the radio: this room doesn't transmit."
NOTHING_KEPT = "Asked out of any incident: nothing was logged and nobody was told. It was read as:"
SPOKEN = "Nothing was logged and nobody was told."

_CLAIMS = re.compile(
    r"[:,;]?\s*\b(?:logged, )?(?:every ?one|every room|the officer|command|the crew)"
    r"( was| is(?: being)?)? (?:told|alerted)\b"
    r"|[:,]?\s*\blogged\b(?! yet)"
    r"|(?<=MAYDAY) stamped\b"
    r"|[:;]?[^.;:]*\b(?:duration clock|on-scene clock|tank clock|reminders are off|counts as flowing)\b[^.]*",
    re.IGNORECASE,
)
_LEFT_OVER = (
    (re.compile(r"\s+([.,:;])"), r"\1"),
    (re.compile(r"(?<=[.:;,])(?:\s*[.,:;])+"), ""),
    (re.compile(r"^[\s.,:;]+"), ""),
    (re.compile(r"[,:;]$"), "."),
)


def without_claims(text: str) -> str:
    """A line of a reply without what it says was logged, told or started."""
    if _CLAIMS.search(text) is None:
        return text
    text = _CLAIMS.sub("", text)
    for pattern, instead in _LEFT_OVER:
        text = pattern.sub(instead, text)
    return text.strip()


def answered_only(outcome: Outcome) -> Outcome:
    """The outcome with nothing logged and nobody told. Its answer, for programs, stays."""
    if not outcome.events and not outcome.notices:
        return outcome
    lead = without_claims(outcome.lead)
    first = NOTHING_KEPT
    if lead.startswith(RADIO):  # a Mayday's answer begins so
        first, lead = f"{RADIO} {NOTHING_KEPT}", lead.removeprefix(RADIO).strip()
    return replace(
        outcome,
        events=(),
        notices=(),
        lead=first,
        how=tuple(line for line in (lead, *map(without_claims, outcome.how)) if line),
        assumed=tuple(line for line in map(without_claims, outcome.assumed) if line),
        cautions=tuple(line for line in map(without_claims, outcome.cautions) if line),
        spoken=f"{SPOKEN} {without_claims(outcome.spoken or outcome.lead)}",
    )
