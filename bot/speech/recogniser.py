"""Opens the recogniser that the settings name."""

from __future__ import annotations

from pathlib import Path
from typing import cast

from bot import extensions
from bot.speech.hearing import Recogniser


def open_recogniser(vosk_model: Path | None = None) -> Recogniser:
    """The recogniser of the settings: Vosk when a model folder is named, else another package's, else the built-in ear.

    Raises:
        bot.errors.SpeechError: the model can't be loaded.
    """
    if vosk_model is not None:
        from bot.speech.vosk import Vosk

        return Vosk(vosk_model)
    if (opened := extensions.only(extensions.RECOGNISERS)) is not None:
        return cast(Recogniser, opened())
    from bot.speech.ear.ear import Ear

    return Ear()
