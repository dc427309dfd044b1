"""Where a key stands in TOML text, so that an error in a rig file can name its line."""

import re

_HEADER = re.compile(r"^\s*(\[\[?)\s*([^\]]+?)\s*\]\]?\s*(?:#.*)?$")
_KEY = re.compile(r"""^\s*((?:"[^"]*"|'[^']*'|[A-Za-z0-9_-]+)(?:\s*\.\s*(?:"[^"]*"|'[^']*'|[A-Za-z0-9_-]+))*)\s*=""")
_PART = re.compile(r"""\s*("[^"]*"|'[^']*'|[^.\s]+)\s*\.?""")


def _parts(dotted: str) -> tuple[str, ...]:
    return tuple(part.strip("\"'") for part in _PART.findall(dotted))


def key_lines(text: str) -> dict[tuple[str, ...], int]:
    """The first line (from 1) of each table and key; tables of an array are numbered: ("readiness", "0", "ask")."""
    found: dict[tuple[str, ...], int] = {}
    counts: dict[tuple[str, ...], int] = {}
    table: tuple[str, ...] = ()
    for number, line in enumerate(text.splitlines(), start=1):
        if header := _HEADER.match(line):
            table = _parts(header[2])
            if header[1] == "[[":
                counts[table] = counts.get(table, -1) + 1
                table = (*table, str(counts[table]))
            found.setdefault(table, number)
        elif key := _KEY.match(line):
            path = (*table, *_parts(key[1]))
            for end in range(len(table) + 1, len(path) + 1):
                found.setdefault(path[:end], number)
    return found


def line_of(lines: dict[tuple[str, ...], int], path: str) -> int | None:
    """The line of a dotted path, or of the nearest table above it that the text holds."""
    parts = tuple(path.replace("[", ".").replace("]", "").split("."))
    while parts:
        if parts in lines:
            return lines[parts]
        parts = parts[:-1]
    return None
