"""Runs the corpus through a reader, counts the verdicts, and calibrates the confidence."""

from __future__ import annotations

from collections import Counter
from collections.abc import Callable, Iterable
from dataclasses import dataclass, replace
from typing import TypeAlias, get_args

import msgspec

from grammar.commands import (
    Command,
    Context,
    Dispatch,
    Evacuate,
    Mayday,
    Medication,
    PatientTold,
    Procedure,
    Reading,
    Report,
    Triage,
    Vitals,
)
from tests.grammar.corpus.loader import Case, Verdict, canonical, cases, judge

Read: TypeAlias = Callable[[str, Context], Reading]

VERDICTS: tuple[Verdict, ...] = get_args(Verdict)
BANDS = (0.0, 0.7, 0.8, 0.9, 0.95, 0.99)
"""Lower ends of the confidence bands of the calibration table."""


KEPT_AS_SAID = ("text", "nature", "address", "remark", "history", "medicines")
"""Fields that hold the speaker's own words."""


@dataclass(frozen=True)
class Outcome:
    """A sentence, how it was read, and what that is worth."""

    case: Case
    reading: Reading
    verdict: Verdict


def tally(read: Read, pattern: str = "*.jsonl", worse: Callable[[str], str] = str) -> list[Outcome]:
    """Every sentence of the files read and judged; `worse` spoils each one first (typos, mishearings)."""
    outcomes = []
    for case in cases(pattern):
        said = worse(case.expected.say)
        reading = read(said, case.context)
        shown = case if said == case.expected.say else _spoiled(case, said)
        verdict = judge(shown, reading)
        if verdict == "wrong" and said != case.expected.say and _kept_as_said(shown, reading):
            verdict = "missed"
        outcomes.append(Outcome(shown, reading, verdict))
    return outcomes


def _kept_as_said(case: Case, reading: Reading) -> bool:
    """What was spoiled stands in its words, and the reply says so; all else is as it is due, or the safe side of it.

    An order to get out never waits for words that can't be made out.
    """
    loose = (*case.expected.loose, "place", "unit", "count", "staffing")
    due = [canonical((command,), case.context, loose) for command in case.expected.expect or ()]
    told = [*(case.expected.expect or ()), *(command for way in case.expected.or_ for command in way)]
    kept = [c for c in reading.commands if isinstance(c, Report | Evacuate) and c.text]
    kept += [c for c in reading.commands if isinstance(c, _OF_A_PATIENT) and any(_part_of(c, one) for one in told)]
    rest = [c for c in reading.commands if c not in kept]
    return bool(kept) and all(canonical((command,), case.context, loose) in due for command in rest)


_OF_A_PATIENT = (Vitals, Medication, Procedure, PatientTold, Triage)
"""What a misspelt word leaves out of them stands in their words, which are kept."""
_WORDS_OF_IT = frozenset(("text", "time", "patient", "sure"))


def _part_of(command: Command, due: Command) -> bool:
    """Everything that it says is as it is due; something may be left out."""
    if type(command) is not type(due):
        return False
    names, defaults = command.__struct_fields__, command.__struct_defaults__
    unsaid = dict(zip(names[len(names) - len(defaults) :], defaults, strict=True))
    return all(
        getattr(command, name) in (getattr(due, name), unsaid.get(name, getattr(due, name)))
        for name in names
        if name not in _WORDS_OF_IT
    )


def _spoiled(case: Case, said: str) -> Case:
    """The case with the words as they were spoiled: what is kept word for word is then spoiled too, and rightly so.

    Where a Mayday is spoken of in words that can't be made out, a Mayday is the safe side.
    """
    due = case.expected.expect or ()
    loose = (
        *case.expected.loose,
        *KEPT_AS_SAID,
        *(("kind", "units") if any(isinstance(c, Dispatch) for c in due) else ()),
    )
    other = case.expected.or_
    if "mayday" in case.expected.say.casefold().replace(" ", "") or any(isinstance(c, Mayday) for c in due):
        loose = (*loose, "location", "unit", "name", "assignment", "air", "resources")
        other = (*other, (Mayday(),))
    expected = msgspec.structs.replace(case.expected, loose=loose, or_=other)
    return replace(case, where=f"{case.where} as {said!r}", expected=expected)


def table(outcomes: Iterable[Outcome]) -> str:
    """Verdicts by file, and of all."""
    by_file: dict[str, Counter[str]] = {}
    for outcome in outcomes:
        by_file.setdefault(outcome.case.where.split(":")[0], Counter())[outcome.verdict] += 1
    whole = sum(by_file.values(), Counter[str]())
    rows = [f"{'':36}{'sentences':>10}" + "".join(f"{v:>10}" for v in VERDICTS)]
    for name, counts in [*by_file.items(), ("all", whole)]:
        rows.append(f"{name:36}{counts.total():>10}" + "".join(f"{counts[v]:>10}" for v in VERDICTS))
    rows.append(f"right or rightly asked: {share_right(whole):.2%}")
    return "\n".join(rows)


def share_right(counts: Counter[str]) -> float:
    return counts["right"] / max(counts.total(), 1)


def calibration(outcomes: Iterable[Outcome]) -> str:
    """Of the answers given at a confidence, the share that was right."""
    answered: dict[float, Counter[str]] = {band: Counter() for band in BANDS}
    for outcome in outcomes:
        if outcome.reading.commands:
            band = max(b for b in BANDS if b <= outcome.reading.confidence)
            answered[band][outcome.verdict] += 1
    rows = [f"{'confidence from':>16}{'answers':>10}{'right':>10}{'wrong':>10}{'share right':>13}"]
    for band, counts in answered.items():
        share = f"{share_right(counts):.2%}" if counts else "-"
        rows.append(f"{band:>16.2f}{counts.total():>10}{counts['right']:>10}{counts['wrong']:>10}{share:>13}")
    return "\n".join(rows)


def share_right_from(outcomes: Iterable[Outcome], confidence: float) -> float:
    """The share right among the answers given at this confidence or more."""
    counts: Counter[str] = Counter(
        o.verdict for o in outcomes if o.reading.commands and o.reading.confidence >= confidence
    )
    return share_right(counts)
