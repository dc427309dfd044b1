"""What holds the house in shape: functions read at a glance, nothing said twice, nothing that nobody uses."""

from __future__ import annotations

import ast
from collections import defaultdict
from collections.abc import Iterator
from pathlib import Path

from vulture import Vulture

ROOT = Path(__file__).parents[1]
WINGS = ("bot", "grammar", "handlers", "tests")
LONGEST = 60
STILL_LONGER = frozenset({"arrest", "oxygen_time"})
"""To be parted by what they read; no new one."""
ALIKE_FROM = 5
"""Statements from which two functions that are the same are said twice."""
CALLED_FROM_OUTSIDE = frozenset({
    "ear", "sheet", "yard", "take_words",
    "_", "__instancecheck__", "_said_before", "downgrade", "process_bind_param", "process_result_value",
    "settings_customise_sources", "shouldRollover", "capture_signals", "forward",
})  # fmt: skip
"""Names that a library or a table calls."""
REGISTERED = [
    "@handle.register", "@amend.register", "@app.command", "@app.callback", "@pytest.fixture", "@event.*",
    "@reads*", "@then", "@fact",
]  # fmt: skip


def files() -> list[Path]:
    """Every module of ours; a migration that has been made is never changed."""
    return [file for wing in WINGS for file in (ROOT / wing).rglob("*.py") if "versions" not in file.parts]


def functions(file: Path) -> Iterator[ast.FunctionDef | ast.AsyncFunctionDef]:
    for node in ast.walk(ast.parse(file.read_text("utf-8"))):
        if isinstance(node, ast.FunctionDef | ast.AsyncFunctionDef):
            yield node


def test_functions_are_short() -> None:
    lengths = {
        f"{file.relative_to(ROOT)}: {function.name}": (function.end_lineno or 0) - function.lineno + 1
        for file in files()
        for function in functions(file)
        if function.name not in STILL_LONGER
    }
    assert {name: length for name, length in lengths.items() if length > LONGEST} == {}


def test_no_function_is_said_twice() -> None:
    said: defaultdict[str, list[str]] = defaultdict(list)
    for file in files():
        for function in functions(file):
            body = function.body[1:] if ast.get_docstring(function) else function.body
            if sum(isinstance(node, ast.stmt) for part in body for node in ast.walk(part)) >= ALIKE_FROM:
                told = "".join(ast.dump(part) for part in body)
                said[told].append(f"{file.relative_to(ROOT)}: {function.name}")
    assert [places for places in said.values() if len(places) > 1] == []


def test_nothing_is_there_that_nobody_uses() -> None:
    found = Vulture(ignore_names=[*CALLED_FROM_OUTSIDE, "on_*", "visit_*"], ignore_decorators=REGISTERED)
    found.scavenge([ROOT / wing for wing in WINGS])
    dead = (*found.unused_funcs, *found.unused_methods, *found.unused_classes, *found.unused_imports)
    assert [f"{Path(item.filename).relative_to(ROOT)}: {item.name}" for item in dead] == []
