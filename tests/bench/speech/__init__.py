"""How well the program hears: the bench's own clips through the whole chain, and the fit of the gate."""


def main() -> None:
    """The quick form, for `python -m tests.bench`."""
    from tests.bench.speech.run import app

    app(["--quick"], standalone_mode=False)
