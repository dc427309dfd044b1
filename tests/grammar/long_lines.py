"""The language's files have lines of 140 characters at most: `python -m tests.grammar.long_lines FILE …` wraps more.

A list is broken between its strings; a wording that is too long by itself is said in two, its alternatives shared out.
"""

from __future__ import annotations

import re
import sys
from collections.abc import Iterator
from pathlib import Path

LONGEST = 140
FILES = sorted(Path("grammar").rglob("*.toml"))
_STRING = re.compile(r'"(?:[^"\\]|\\.)*"')
_LISTED = re.compile(
    rf'(?P<head>[^"\[]*(?:"[^"]*" *= *)?)\[(?P<items>(?: *{_STRING.pattern} *,?)*) *(?P<tail>\]?[^"]*)'
)
_ITEMS = re.compile(rf" *(?P<items>(?:{_STRING.pattern} *,? *)+)(?P<tail>\]?[^\"]*)")


def too_long(path: Path) -> list[int]:
    """The numbers of the lines that are too long."""
    lines = path.read_text(encoding="utf-8").splitlines()
    return [number for number, line in enumerate(lines, start=1) if len(line) > LONGEST]


def wrapped(text: str) -> str:
    """The file with its long lists broken."""
    return "\n".join(line for one in text.split("\n") for line in _broken(one))


def _broken(line: str) -> Iterator[str]:
    if len(line) <= LONGEST or line.startswith("#"):
        yield line
    elif (whole := _LISTED.fullmatch(line)) is not None:
        yield f"{whole['head']}["
        yield from _filled(_STRING.findall(whole["items"]))
        yield from [whole["tail"]] if whole["tail"].strip() else ()
    elif (inner := _ITEMS.fullmatch(line)) is not None:
        yield from _filled(_STRING.findall(inner["items"]))
        if inner["tail"].strip():
            yield inner["tail"].strip()
    else:
        yield line


def _filled(strings: list[str]) -> Iterator[str]:
    line = " "
    for string in (part for one in strings for part in _shared_out(one)):
        if len(line) + len(string) + 2 > LONGEST:
            yield from [line] if line.strip() else ()
            line = " "
        line += f" {string},"
    yield line


def _shared_out(string: str) -> Iterator[str]:
    """A wording that is too long as two, each with half of the alternatives of its longest plain group."""
    groups = list(re.finditer(r"\(((?:[^()\[\]]|\[[^()\[\]|]*\])+)\)", string))
    groups = [group for group in groups if "|" in group[1]]
    if len(string) <= LONGEST - 4 or not groups:
        yield string
        return
    group = max(groups, key=lambda one: len(one[0]))
    ways = group[1].split(" | ")
    half = (len(ways) + 1) // 2
    for part in (ways[:half], ways[half:]):
        said = f"({' | '.join(part)})" if len(part) > 1 else part[0].strip()
        yield from _shared_out(string[: group.start()] + said + string[group.end() :])


def main() -> None:
    """Wrap the named files, or all of the language's."""
    for path in [Path(name) for name in sys.argv[1:]] or FILES:
        text = path.read_text(encoding="utf-8")
        path.write_text(wrapped(text), encoding="utf-8")
        for number in too_long(path):
            print(f"{path}:{number} is still too long; break it by hand")


if __name__ == "__main__":
    main()
