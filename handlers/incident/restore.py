"""After the fire: what must be made ready again, as a short list to tick off, drawn from what was used."""

from __future__ import annotations

from grammar.commands import Choice, Question, Restore
from handlers.desk import handle
from handlers.errors import Refusal
from handlers.events import Restored
from handlers.outcome import Answer, Outcome, Said
from handlers.rig import Rig
from handlers.scene import Scene
from handlers.times import unit_name


class RestoreAnswer(Answer, frozen=True):
    """Answer of `restore`."""

    done: tuple[str, ...]
    open: tuple[str, ...]


def to_restore(scene: Scene, rig: Rig) -> tuple[str, ...]:
    """What this incident used of the rig: tank, lines, supply hose, air cylinders, oxygen."""
    pump = scene.pump(rig.name.casefold())
    items = []
    if pump.used_gal or pump.lines:
        items.append("tank refilled")
    items += [f"{label.lower()} reloaded" for label in dict.fromkeys(line.label for line in (*pump.shut, *pump.lines))]
    if pump.source != "tank" or pump.source_since is not None:
        items.append("supply hose reloaded")
    items += [f"air cylinders changed, {unit_name(crew.crew)}" for crew in scene.crews.values() if crew.entered_at]
    if scene.arrest is not None or scene.kind == "medical":
        items += ["medical bag restocked", "oxygen checked"]
    return tuple(items)


@handle.register
def restore(command: Restore, scene: Scene, rig: Rig, said: Said) -> Outcome:
    """The list, or one thing on it ticked off."""
    if scene.opened_at is None:
        raise Refusal("No incident in this room's log: nothing to make ready from.")
    items = to_restore(scene, rig)
    done = tuple(item for item in items if item in scene.restored)
    ticked: tuple[str, ...] = ()
    if command.item is not None and command.done:
        found = [item for item in items if command.item.casefold() in item]
        ticked = tuple(found or [command.item.casefold()])
        done = tuple(dict.fromkeys([*done, *ticked]))
    left = tuple(item for item in items if item not in done)
    lead = f"Done: {', '.join(ticked)}." if ticked else "To make ready again:"
    how = [f"To do: {', '.join(left)}." if left else "Nothing left on the list."]
    if done and not ticked:
        how.append(f"Done: {', '.join(done)}.")
    choices = tuple(Choice(item.capitalize(), (Restore(item=item, done=True),)) for item in left)
    return Outcome(
        intent=command.intent,
        lead=lead,
        how=tuple(how),
        answer=RestoreAnswer(done, left),
        events=tuple(Restored(item) for item in ticked if item not in scene.restored),
        follow_up=Question("Tick off:", choices) if left else None,
    )
