"""Writing a value into a rig file's text and leaving everything else, comments too, as it stands."""

from __future__ import annotations

import tomlkit


def with_coefficient(text: str, hose: str, coefficient: float, source: str) -> str:
    """The rig file's text with a hose's coefficient from the department's own flow test."""
    document = tomlkit.parse(text)
    of_hose = document.setdefault("hose", tomlkit.table(is_super_table=True)).setdefault(hose, tomlkit.table())
    of_hose.pop("coefficient_si", None)
    for key, value in (("coefficient", float(f"{coefficient:.4g}")), ("flow_tested", True), ("source", source)):
        of_hose[key] = value
    return tomlkit.dumps(document)
