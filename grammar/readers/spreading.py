"""Spreads what was said of several lines at once: "two lines, 150 and 200 feet", "… one on the second floor, one …"."""

from __future__ import annotations

from grammar.readers.grouping import Group

_SHARED = ("hose", "len", "kind", "tip", "flow", "npsi", "foam")
"""What holds of every line unless another was said."""
_ALONE = ("name", "family", "device", "unknown_name")


def spread(groups: list[Group]) -> tuple[list[Group], int]:
    """The groups with a count given out to the lines that follow it; and the count when it is unsure whose it is."""
    for k, group in enumerate(groups):
        number = int(group.num("count") or 1)
        if number < 2 or group.has(*_ALONE):
            continue
        run = _run(groups[k + 1 :])
        if not run:
            continue
        if all(other.has("count") for other in run):
            if sum(int(other.num("count") or 1) for other in run) == number and not any(o.has("hose") for o in run):
                _inherit(group, run)
                return [*groups[:k], *run, *groups[k + 1 + len(run) :]], 0
            continue
        if any(other.has("count") for other in run):
            continue
        if any(other.has("hose") for other in run):
            return groups, number if group.counts_lines and len(run) + 1 == number else 0
        if len(run) == number and not group.has("len", "floor"):
            _inherit(group, run)
            return [*groups[:k], *groups[k + 1 :]], 0  # "two lines, both inch and three quarter: 250 feet … and 200"
        if len(run) + 1 == number:
            group.values.pop("count")
            _inherit(group, run)
            return groups, 0
    return groups, 0


def _run(after: list[Group]) -> list[Group]:
    """The lines that follow, as far as they may be some of those that were counted."""
    run = []
    for group in after:
        if group.link not in (None, "and") or group.has(*_ALONE) or not group.has("len", "hose", "floor"):
            break
        run.append(group)
    return run


def _inherit(group: Group, run: list[Group]) -> None:
    for other in run:
        for kind in _SHARED:
            if kind in group.values:
                other.values.setdefault(kind, group.values[kind])
