"""The daily check: the rig file's list, asked one by one at shift change, answered by voice or button.

What fails goes to the officer at once and stays in the log; a number is judged against the rig file's `at_least`.
Which things a department checks, and when, is its own (common practice).
"""

from __future__ import annotations

from grammar.commands import Choice, Question, Readiness
from handlers.desk import handle
from handlers.errors import Refusal
from handlers.events import ReadinessAnswered, ReadinessFinished, ReadinessStarted
from handlers.outcome import Answer, Notice, Outcome, Said
from handlers.rig import CheckItem, Rig
from handlers.scene import Check, Scene
from handlers.times import clock, listed


class ReadinessAnswer(Answer, frozen=True):
    """Answer of `readiness`: how many items there are, were answered, and which failed."""

    items: int
    answered: int
    failed: tuple[str, ...]
    item: str | None = None
    ok: bool | None = None


@handle.register
def readiness(command: Readiness, scene: Scene, rig: Rig, said: Said) -> Outcome:
    """Start the check, answer an item, ask how it stands, or end it."""
    if not rig.readiness:
        raise Refusal("The rig file has no daily check: write its [[readiness]] items first.")
    if command.action == "start":
        return _start(rig, said)
    if command.action == "answer":
        return _answered(command, scene, rig, said)
    return _standing(scene, rig, said, finish=command.action == "finish")


def next_item(scene: Scene, rig: Rig) -> CheckItem | None:
    """The first item of a running check that isn't answered; None when none runs or all are."""
    if not scene.readiness_items or scene.readiness_finished_at is not None:
        return None
    done = {check.item for check in scene.readiness}
    return next((item for item in rig.readiness if item.key in scene.readiness_items and item.key not in done), None)


def ask(item: CheckItem) -> Question:
    """The question of an item: two buttons, or a number."""
    if item.unit is not None:
        return Question(text=item.ask, fills=Readiness(action="answer", item=item.key), slot="value")
    return Question(
        text=item.ask,
        choices=(
            Choice(label="OK", commands=(Readiness(action="answer", item=item.key, ok=True),)),
            Choice(label="Not OK", commands=(Readiness(action="answer", item=item.key, ok=False),)),
        ),
    )


def _start(rig: Rig, said: Said) -> Outcome:
    keys = tuple(item.key for item in rig.readiness)
    return Outcome(
        intent=Readiness.intent,
        lead=f"Daily check, {rig.name}, {clock(said.at, said.tz)}: {len(keys)} items.",
        answer=ReadinessAnswer(items=len(keys), answered=0, failed=()),
        events=(ReadinessStarted(items=keys),),
        follow_up=ask(rig.readiness[0]),
    )


def _item(command: Readiness, scene: Scene, rig: Rig) -> CheckItem:
    if command.item is None:
        item = next_item(scene, rig)
        if item is None:
            raise Refusal("No daily check is running: say “start the daily check”.")
        return item
    known = {item.key: item for item in rig.readiness}
    same = (key for key in known if _stems(key) & _stems(command.item or ""))
    asked = command.item if command.item in known else next(same, None)
    if asked is None:
        names = ", ".join(key.replace("_", " ") for key in known)
        raise Refusal(f"“{command.item}” isn't on this rig's daily check; it has {names}.")
    return known[asked]


def _stems(key: str) -> set[str]:
    """The words of an item's key, in the singular: "pump" is the "pump_check"."""
    return {word.rstrip("s") for word in key.replace("_", " ").split()} - {"check"}


def _judged(command: Readiness, item: CheckItem) -> bool:
    """Whether the item is in order: by its number when it has one, else as it was said."""
    if item.unit is not None and command.value is not None and item.at_least is not None:
        return command.value >= item.at_least
    if item.unit is not None and item.at_least is not None and command.ok:
        raise Refusal(f"Say the number: {item.ask}")
    if command.ok is None:
        raise Refusal(f"Say yes or no: {item.ask}" if item.unit is None else f"Say the number: {item.ask}")
    return command.ok


def _answered(command: Readiness, scene: Scene, rig: Rig, said: Said) -> Outcome:
    item = _item(command, scene, rig)
    ok = _judged(command, item)
    body = ReadinessAnswered(item=item.key, ok=ok, value=command.value, remark=command.remark)
    check = Check(item=item.key, ok=ok, at=said.at, value=command.value, remark=command.remark)
    checks = (*(c for c in scene.readiness if c.item != item.key), check)
    answered = {c.item for c in checks}
    running = bool(scene.readiness_items) and scene.readiness_finished_at is None
    left = [i for i in rig.readiness if i.key not in answered] if running else []
    name = item.key.replace("_", " ").capitalize()
    number = f" {command.value:g} {item.unit}" if command.value is not None and item.unit else ""
    verdict = (
        "OK" if ok else "NOT OK" + (f" (at least {item.at_least:g} {item.unit})" if number and item.at_least else "")
    )
    remark = f" ({command.remark})" if command.remark else ""
    lead = f"{name}{number}: {verdict}{remark}."
    failed = tuple(c.item for c in checks if not c.ok)
    notices = (
        ()
        if ok
        else (Notice(to=("officer",), kind="notice", name="readiness", text=f"Daily check, {rig.name}: {lead}"),)
    )
    finished = running and not left
    return Outcome(
        intent=Readiness.intent,
        lead=lead,
        how=(_summary(checks, rig),) if finished else (),
        answer=ReadinessAnswer(items=len(rig.readiness), answered=len(answered), failed=failed, item=item.key, ok=ok),
        events=(body, ReadinessFinished()) if finished else (body,),
        notices=notices,
        follow_up=ask(left[0]) if left else None,
    )


def _summary(checks: tuple[Check, ...], rig: Rig) -> str:
    failed = [check.item.replace("_", " ") for check in checks if not check.ok]
    if failed:
        return f"Check done, {len(checks)} of {len(rig.readiness)} answered. Not OK: {listed(failed)}."
    return f"Check done, {len(checks)} of {len(rig.readiness)} answered, each reported OK."


def _standing(scene: Scene, rig: Rig, said: Said, *, finish: bool) -> Outcome:
    if not scene.readiness_items:
        raise Refusal("No daily check was started: say “start the daily check”.")
    answered = {check.item for check in scene.readiness}
    missing = [item.key.replace("_", " ") for item in rig.readiness if item.key not in answered]
    failed = tuple(check.item for check in scene.readiness if not check.ok)
    how = (f"Not answered: {listed(missing)}.",) if missing else ()
    running = next_item(scene, rig)
    return Outcome(
        intent=Readiness.intent,
        lead=_summary(scene.readiness, rig).replace("Check done", "Daily check" if not finish else "Check ended"),
        how=how,
        answer=ReadinessAnswer(items=len(rig.readiness), answered=len(answered), failed=failed),
        events=(ReadinessFinished(),) if finish else (),
        follow_up=ask(running) if running is not None and not finish else None,
    )
