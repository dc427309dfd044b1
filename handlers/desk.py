"""The desk: each command finds its handler here. `handle` is a registry from the command's type (functools.singledispatch).

A handler is a pure function `(command, scene, rig, said) -> Outcome`; modules register theirs with `@handle.register`, and
`handlers/__init__.py` imports them all.
"""

from __future__ import annotations

from functools import singledispatch

from grammar.commands import Command
from handlers.outcome import Outcome, Said
from handlers.rig import Rig
from handlers.scene import Scene


@singledispatch
def handle(command: Command, scene: Scene, rig: Rig, said: Said) -> Outcome:
    """Work a command out against the scene.

    Args:
        command: what was said.
        scene: the incident as it stands at `said.at` (an empty scene outside one).
        rig: the speaker's company's rig file.
        said: who, where and when.
    """
    raise NotImplementedError(f"no handler for {type(command).__name__}")
