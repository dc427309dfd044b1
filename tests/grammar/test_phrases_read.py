"""What the word graph can hear the reader can read: sampled sentences, each where it would be said."""

from __future__ import annotations

import random
from collections import Counter

import msgspec

from grammar.commands import Choice, Context, LineSeen, Mayday, PumpPressure, Question, RigLine
from grammar.phrases import Names
from grammar.reader import read
from grammar.samples import sample

NAMES = Names(lines=("crosslay 1", "crosslay 2", "rear line"), own_unit="engine 12", call_names=())
IDLE = Context(
    rig_lines=(
        RigLine(key="crosslay_1", names=("crosslay 1",), hose_in=1.75, length_ft=200),
        RigLine(key="crosslay_2", names=("crosslay 2",), hose_in=1.75, length_ft=200),
        RigLine(key="rear_line", names=("rear line",), hose_in=2.5, length_ft=250),
    ),
    own_unit="engine 12",
    incident_open=True,
    addressed=True,
)


def situations() -> list[Context]:
    """At work; after a pressure, with lines on; in a Mayday; on a medical run; asked yes or no; at the daily check."""
    replace = msgspec.structs.replace
    last = read("two lines 200 feet inch and three quarter second floor", IDLE).commands
    assert isinstance(last[0], PumpPressure)
    on = (LineSeen(seq=1, name="crosslay_1", hose_in=1.75, length_ft=200), LineSeen(seq=2, hose_in=2.5, length_ft=250))
    return [
        IDLE,
        replace(IDLE, last=last, lines=on),
        replace(IDLE, mayday_open=True, last=(Mayday(),)),
        replace(IDLE, incident_kind="medical"),
        replace(IDLE, asked=Question("Sure?", (Choice("Yes", last), Choice("No"))), last=last),
        replace(IDLE, readiness_item="oxygen"),
        replace(IDLE, speaker_unit="engine 9", inside=("engine 9",), units_known=("engine 9",)),
    ]


def test_nearly_every_sampled_sentence_is_read() -> None:
    rng, contexts = random.Random(12), situations()
    missed: Counter[str] = Counter()
    total = 700
    for _ in range(total):
        said = sample(rng, NAMES)
        readings = (read(said.words, context) for context in contexts)
        if not any(r.commands or r.question or "Not understood" not in (r.declined or "") for r in readings):
            missed[said.intent] += 1
    print(f"{total - missed.total()} of {total} read; not: {missed.most_common()}")
    assert missed.total() / total <= 0.12
