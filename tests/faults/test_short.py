"""The short form of every part: nothing promised is broken. `python -m tests.faults` is the long one."""

from __future__ import annotations

import pytest

from tests.faults.__main__ import PARTS, part
from tests.faults.counts import Counts, unlogged


@pytest.mark.timeout(600)  # seconds each on an idle machine
@pytest.mark.parametrize("name", PARTS)
async def test_what_is_promised_holds(name: str) -> None:
    found: list[Counts] = []
    with unlogged():
        async for counts in part(name)(False):
            print(counts)
            found.append(counts)
    broken = [f"{counts.title}: {line}" for counts in found for line in counts.broken_on_a_busy_machine]
    examples = [example for counts in found for example in counts.seen]
    assert not broken, "\n".join([*broken, *examples])


def test_a_broken_promise_shows() -> None:
    counts = Counts("an example")
    counts.none("lost", ["a", "b"])
    counts.at_most("latest, s", 3, 2, timed=True)
    counts.at_most("slowest, s", 30, 2, timed=True)
    assert [line.what for line in counts.broken] == ["lost", "latest, s", "slowest, s"]
    assert [line.what for line in counts.broken_on_a_busy_machine] == ["lost", "slowest, s"]
    assert "BROKEN" in str(counts)
