"""The named costs of a reading, from certain to absurd: no other file types a cost as a number.

Confidence falls with e^-cost: a reading is taken without a question while its costs stay below about 0.2 (see
grammar/verdict.py), so that one thing `UNSURE` or worse asks, and two that are `LIKELY` are still taken. They were set
by hand; on the corpus the levels in between carry nothing.
"""

from __future__ import annotations

from typing import Final

SURE: Final = 0.0
HARDLY: Final = 0.02
"""Said so, if not in the usual words; breaks a tie."""
LIKELY: Final = 0.05
FAIR: Final = 0.1
WEAK: Final = 0.15
"""Taken where nothing else is in doubt."""
UNSURE: Final = 0.3
"""Asked."""
DOUBTFUL: Final = 0.5
"""Asked only where nothing better is there."""
UNLIKELY: Final = 0.8
ABSURD: Final = 1.5
"""Never taken, never offered beside another."""
