"""Brings all readers in."""

from __future__ import annotations

from importlib import import_module
from pathlib import Path

MODULES = tuple(
    import_module(f"{__package__}.{path.stem}")
    for path in sorted(Path(__file__).parent.glob("[a-z]*.py"))
    if path.stem not in ("first", "every")
)
"""Imported for their readers, which register themselves."""
