"""No module imports itself by way of others: what needs each other stands in one place, or one of them takes it."""

from __future__ import annotations

import grimp


def circles(imports: dict[str, set[str]]) -> list[list[str]]:
    """Modules from which a chain of imports comes back, group by group."""
    reached = {module: _reached(module, imports) for module in imports}
    back = [module for module in sorted(imports) if module in reached[module]]
    return [[other for other in back if other in reached[one] and one in reached[other]] for one in back]


def _reached(start: str, imports: dict[str, set[str]]) -> set[str]:
    found: set[str] = set()
    waiting = list(imports[start])
    while waiting:
        if (module := waiting.pop()) not in found:
            found.add(module)
            waiting += imports.get(module, ())
    return found


def test_there_is_no_circle() -> None:
    graph = grimp.build_graph("bot", "grammar", "handlers", cache_dir=None)
    assert circles({module: graph.find_modules_directly_imported_by(module) for module in graph.modules}) == []


def test_a_circle_would_be_found() -> None:
    assert circles({"a": {"b"}, "b": {"c"}, "c": {"a"}, "d": {"a"}})[0] == ["a", "b", "c"]
