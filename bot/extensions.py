"""What other packages add to the program, by entry points in their pyproject.toml:

[project.entry-points."crosslay.rooms"]          # `crosslay serve NAME`
radio = "our_radio:serve"                        # async (settings, rigs) -> None, until it is cancelled
[project.entry-points."crosslay.recognisers"]    # used in place of the built-in ear; at most one is installed
ours = "our_ear:open"                            # () -> bot.speech.hearing.Recogniser
[project.entry-points."crosslay.reports"]        # `crosslay report last --to incident.xlsx`
xlsx = "our_sheet:render"                        # (record, rig, tz) -> bytes
"""

from __future__ import annotations

from importlib.metadata import entry_points
from typing import Any

from handlers.errors import CrosslayError

ROOMS, RECOGNISERS, REPORTS = "crosslay.rooms", "crosslay.recognisers", "crosslay.reports"


class ExtensionError(CrosslayError):
    """Another package's part of the program can't be used: install it again, or leave it out."""


def names(group: str) -> tuple[str, ...]:
    """What is installed of a group."""
    return tuple(sorted(entry_points(group=group).names))


def find(group: str, name: str) -> Any:
    """What an installed package gives under a name; None where nothing has it.

    Raises:
        ExtensionError: it can't be loaded.
    """
    for point in entry_points(group=group, name=name):
        try:
            return point.load()
        except Exception as error:
            raise ExtensionError(f"{name} ({point.value}) can't be loaded ({type(error).__name__}: {error}).") from None
    return None


def only(group: str) -> Any:
    """The one that is installed of a group; None where none is.

    Raises:
        ExtensionError: several are, or it can't be loaded.
    """
    there = names(group)
    if len(there) > 1:
        raise ExtensionError(f"Several packages want to be {group}: {', '.join(there)}. Leave one installed.")
    return find(group, there[0]) if there else None
