"""The shortest chain of fittings between two ends, from what the rig carries; or what is missing."""

from __future__ import annotations

from collections import deque

import msgspec

from grammar.commands import Fitting
from handlers import rig as rigs
from handlers.desk import handle
from handlers.errors import Refusal
from handlers.outcome import Answer, Outcome, Said
from handlers.rig import End, Rig
from handlers.rigfile.parse import parse_end
from handlers.scene import Scene
from handlers.words import Words

ANY_THREAD = ("thread", "male", "female", "threaded")
SEXLESS = ("storz", "stortz", "sexless")


class Chain(Answer, frozen=True):
    """Answer of `fitting`: the fittings in order (none where the ends couple by themselves), or what is missing."""

    chain: tuple[str, ...]
    missing: str | None


def read_end(text: str) -> End:
    """ "5 storz", "2.5 male", "2½ female NH" as an End; a bare gender means any thread."""
    end = parse_end(text)
    if end is None:
        raise Refusal(
            f"“{text}” isn't an end: say its size and coupling, as in “two and a half male” or “five inch storz”."
        )
    if end.coupling in ("male", "female"):
        end = msgspec.structs.replace(end, gender=end.coupling, coupling="thread")
    if end.gender is None and end.coupling not in SEXLESS:
        raise Refusal(f"Is the {text} male or female? Say it again with that.")
    return end


def same(wanted: End, end: End) -> bool:
    """The end of a fitting is the wanted one: size, gender, and thread where one was named."""
    return _fits(wanted, end) and wanted.gender == end.gender


def couples(one: End, other: End) -> bool:
    """Two ends go together: same size and coupling, male to female or sexless."""
    opposite = {"male": "female", "female": "male", None: None}
    return _fits(one, other) and opposite[one.gender] == other.gender


def _fits(one: End, other: End) -> bool:
    threads = one.coupling in ANY_THREAD or other.coupling in ANY_THREAD
    sexless = one.gender is None or other.gender is None
    return abs(one.size_in - other.size_in) <= 0.06 and (one.coupling == other.coupling or (threads and not sexless))


def shortest_chain(
    start: End, goal: End, carried: tuple[rigs.CarriedFitting, ...]
) -> tuple[rigs.CarriedFitting, ...] | None:
    """Breadth first: the fewest fittings whose first end is `start` and whose last is `goal`, none used too often."""
    waiting: deque[tuple[End | None, tuple[int, ...]]] = deque([(None, ())])
    seen: set[tuple[End | None, tuple[int, ...]]] = set()
    while waiting:
        out, used = waiting.popleft()
        for number, fitting in enumerate(carried):
            if used.count(number) >= fitting.count:
                continue
            for entry, end in enumerate(fitting.ends):
                if not (same(start, end) if out is None else couples(out, end)):
                    continue
                for exit_, leaving in enumerate(fitting.ends):
                    if exit_ == entry:
                        continue
                    now = (*used, number)
                    if same(goal, leaving):
                        return tuple(carried[n] for n in now)
                    state = (leaving, tuple(sorted(now)))
                    if state not in seen and len(now) < 6:
                        seen.add(state)
                        waiting.append((leaving, now))
    return None


@handle.register
def _(command: Fitting, scene: Scene, rig: Rig, said: Said) -> Outcome:
    words = Words.of(rig)
    start, goal = read_end(command.from_end), read_end(command.to_end)
    ends = f"{_end(start, words)} to {_end(goal, words)}"
    caution = ("Thread standards differ by place: check the thread before it is needed.",)
    if couples(start, goal):
        return Outcome(intent=command.intent, lead="They couple by themselves", how=(ends,), answer=Chain((), None),
                       cautions=caution)  # fmt: skip
    if not rig.fittings:
        raise Refusal("The rig file has no fittings: list them under [[fittings]].")
    chain = shortest_chain(start, goal, rig.fittings)
    joining = _to_join(start, goal, chain, rig)
    if chain is None:
        missing = f"adapter {ends}"
        return Outcome(intent=command.intent, lead="Not from what this rig carries",
                       how=(f"Missing: one {missing} (the fitting's own ends).", *joining),
                       answer=Chain((), missing), cautions=caution)  # fmt: skip
    names = tuple(fitting.name for fitting in chain)
    count = f"{len(names)} fitting{'s' * (len(names) != 1)}"
    told = f"{count} whose own ends are {_end(start, words)} and {_end(goal, words)}, from the rig file."
    return Outcome(intent=command.intent, lead=" → ".join(names), how=(told, *joining),
                   answer=Chain(names, None), cautions=caution)  # fmt: skip


def _to_join(start: End, goal: End, chain: tuple[rigs.CarriedFitting, ...] | None, rig: Rig) -> tuple[str, ...]:
    """The other reading, where it comes to something else: the ends as those of the hoses that are to be joined."""
    words = Words.of(rig)
    joining = shortest_chain(_mate(start), _mate(goal), rig.fittings)
    if joining == chain and chain is not None:
        return ()
    needed = f"{_end(_mate(start), words)} to {_end(_mate(goal), words)}"
    what = " → ".join(fitting.name for fitting in joining) if joining else f"none carried (one {needed})"
    return (f"To join a {_end(start, words)} end to a {_end(goal, words)} end: {what}.",)


def _mate(end: End) -> End:
    """The end that couples with this one."""
    opposite = {"male": "female", "female": "male"}
    return msgspec.structs.replace(end, gender=opposite[end.gender]) if end.gender is not None else end


def _end(end: End, words: Words) -> str:
    coupling = (
        "" if end.coupling in ANY_THREAD else f" {end.coupling.upper() if len(end.coupling) < 4 else end.coupling}"
    )
    return f"{words.hose(end.size_in)}{f' {end.gender}' if end.gender else ''}{coupling}"
