"""Every module of the grammar but its commands is closed to the handlers: a new one is named in the walls too."""

from __future__ import annotations

import tomllib
from pathlib import Path

ROOT = Path(__file__).parents[2]


def test_the_walls_name_every_module_of_the_grammar() -> None:
    contracts = tomllib.loads((ROOT / "pyproject.toml").read_text(encoding="utf-8"))["tool"]["importlinter"][
        "contracts"
    ]
    closed = next(one["forbidden_modules"] for one in contracts if one["source_modules"] == ["handlers"])
    modules = {
        path.stem for path in (ROOT / "grammar").iterdir() if path.suffix == ".py" or (path / "__init__.py").exists()
    }
    assert {f"grammar.{name}" for name in modules - {"__init__", "commands"}} <= {*closed}
