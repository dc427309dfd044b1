"""The declared language: all files of `grammar/language` as one tree of terms, slots, frames, sentences and wording."""

from __future__ import annotations

import tomllib
from functools import cache
from pathlib import Path
from typing import Any

FOLDER = Path(__file__).with_name("language")


class LanguageError(ValueError):
    """The declared language doesn't hold together: mend the file and the frame that the message names."""


@cache
def language() -> dict[str, Any]:
    """Every table of every file, read once; a frame knows its `file`.

    Raises:
        LanguageError: a name that two files declare.
    """
    tree: dict[str, Any] = {"frame": []}
    for path in sorted(FOLDER.glob("*.toml")):
        for key, value in tomllib.loads(path.read_text(encoding="utf-8")).items():
            if key == "frame":
                tree["frame"] += [{**frame, "file": path.name} for frame in value]
                continue
            into = tree.setdefault(key, {})
            twice = into.keys() & value.keys()
            if twice:
                raise LanguageError(f"{path.name}: {key} {sorted(twice)[0]} is declared twice; keep one")
            into.update(value)
    return tree
