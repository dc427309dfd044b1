"""The coefficient of a hose from a department's own flow test, beside the book's; it can go into the rig file."""

from __future__ import annotations

import msgspec

from grammar.commands import Choice, Coefficient, Question
from handlers.desk import handle
from handlers.errors import NeedsAnswer, Refusal
from handlers.outcome import Answer, Outcome, Said
from handlers.pumping import hydraulics
from handlers.pumping.completion import known_hose
from handlers.rig import Hose, Rig
from handlers.rigfile.metric import COEFFICIENT_US_PER_SI
from handlers.scene import Scene
from handlers.words import Words

FAR_OFF = 0.5
"""A measured coefficient this far off is questioned (common practice: hoses of one size differ by a third)."""


class MeasuredCoefficient(Answer, frozen=True):
    """Answer of `coefficient`: the measured one (null when only the rig's was asked for) and the rig's own."""

    hose: str
    hose_in: float
    coefficient: float | None
    rig_coefficient: float
    save: bool = False
    """It is written to the rig file (`bot.rigs.flow_test`)."""


@handle.register
def _(command: Coefficient, scene: Scene, rig: Rig, said: Said) -> Outcome:
    words = Words.of(rig)
    command = _of_the_last_test(command, said)
    if command.hose_in is None:
        raise NeedsAnswer("Which hose was tested?", part=command, slot="hose_in", options=_sizes(command, rig))
    hose = known_hose(command.hose_in, rig)
    measured = (command.flow_gpm, command.length_ft, command.loss_psi)
    if all(value is None for value in measured):
        return _known(command, hose, rig)
    for value, slot, text in zip(
        measured,
        ("flow_gpm", "length_ft", "loss_psi"),
        ("At what flow was it tested?", "What length was tested?", "How much pressure was lost?"),
        strict=True,
    ):
        if value is None:
            raise NeedsAnswer(text, part=command, slot=slot)
        if value <= 0:
            raise Refusal("Flow, length and loss of a test are all above zero: say them again.")
    flow, length, loss = (value or 0.0 for value in measured)
    coefficient = hydraulics.coefficient_from_test(flow, length, loss)
    key = "coefficient_si" if words.metric else "coefficient"
    shown = f"{coefficient / COEFFICIENT_US_PER_SI if words.metric else coefficient:.3g}"
    lead = f"C = {words.coefficient(coefficient)} for {words.hose(hose.diameter_in)}"
    if command.save and said.live and not command.sure:
        return _asked(command, lead, _doubts(coefficient, hose))
    return Outcome(
        intent=command.intent,
        lead=lead,
        how=(
            f"{words.psi(loss)} lost in {words.feet(length)} at {words.gpm(flow)}; the rig file has "
            f"{words.coefficient(hose.coefficient)} ({rig.source(f'hose.{hose.key}.coefficient')}).",
            f"In the rig file: [hose.{hose.key}] {key} = {shown}, flow_tested = true."
            + ("" if command.save or not said.live else " “Save it” writes it there."),
        ),
        answer=MeasuredCoefficient(
            hose.key, hose.diameter_in, coefficient, hose.coefficient, command.save and said.live
        ),
        cautions=_doubts(coefficient, hose),
    )


def _of_the_last_test(command: Coefficient, said: Said) -> Coefficient:
    """ "Save it" means the test that was told just before."""
    bare = (command.hose_in, command.length_ft, command.flow_gpm, command.loss_psi) == (None,) * 4
    tests = [last for last in said.last_commands if isinstance(last, Coefficient)]
    if not (command.save and bare):
        return command
    if not tests:
        raise Refusal("Save what? Say the flow test first: hose, length, flow and loss.")
    return msgspec.structs.replace(tests[-1], save=True, sure=command.sure)


def _asked(command: Coefficient, lead: str, doubts: tuple[str, ...]) -> Outcome:
    """Every pressure changes with it from then on: never written without being asked."""
    text = " ".join((f"{lead}. Write it into the rig file?", *doubts))
    write = Choice("Write it", (msgspec.structs.replace(command, save=True, sure=True),))
    return Outcome(intent=command.intent, question=Question(text, (write, Choice("No")), fills=command))


def _known(command: Coefficient, hose: Hose, rig: Rig) -> Outcome:
    words = Words.of(rig)
    lines = [f"Source: {rig.source(f'hose.{hose.key}.coefficient')}."]
    if hose.newer_coefficient is not None and not hose.flow_tested:
        lines.append(
            f"Newer hose can be nearer {words.coefficient(hose.newer_coefficient)}: your own flow test decides."
        )
    return Outcome(
        intent=command.intent,
        lead=f"C = {words.coefficient(hose.coefficient)} for {words.hose(hose.diameter_in)}",
        how=tuple(lines),
        answer=MeasuredCoefficient(hose.key, hose.diameter_in, None, hose.coefficient),
    )


def _doubts(coefficient: float, hose: Hose) -> tuple[str, ...]:
    if abs(coefficient / hose.coefficient - 1) <= FAR_OFF:
        return ()
    return ("That is far from the rig file's value: check flow, length and both gauges before using it.",)


def _sizes(command: Coefficient, rig: Rig) -> tuple[tuple[str, Coefficient], ...]:
    words = Words.of(rig)
    return tuple(
        (words.hose(hose.diameter_in), msgspec.structs.replace(command, hose_in=hose.diameter_in))
        for hose in rig.hose.values()
        if hose.carried_ft > 0
    )
