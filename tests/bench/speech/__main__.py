"""`python -m tests.bench.speech [--quick]`: how well the program hears, from a voice message to a reading."""

from __future__ import annotations

from tests.bench.speech.run import app

if __name__ == "__main__":
    app()
