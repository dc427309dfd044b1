"""What can go wrong with speech; each class's docstring is the sentence that people see.

SpeechError
├── AudioError              the recording can't be used
│   ├── EmptyAudioError
│   ├── BigAudioError
│   ├── LongAudioError
│   ├── NotAudioError
│   └── BrokenAudioError
├── EarError
├── VoskError
├── VoiceError
└── MicrophoneError
"""

from __future__ import annotations

from handlers.errors import CrosslayError


class SpeechError(CrosslayError):
    """Speech doesn't work here: type it instead."""

    def __init__(self, sentence: str | None = None) -> None:
        super().__init__(sentence or " ".join((type(self).__doc__ or "").split()))


class AudioError(SpeechError):
    """The recording can't be used: send it again or type it."""


class EmptyAudioError(AudioError):
    """The recording is empty: send it again or type it."""


class BigAudioError(AudioError):
    """The recording is over 20 MB: send a short voice message or type it."""


class LongAudioError(AudioError):
    """The recording is over two minutes long: send a short voice message or type it."""


class NotAudioError(AudioError):
    """That file isn't a recording this program can play: send a voice message or type it."""


class BrokenAudioError(AudioError):
    """The recording is broken or cut short: send it again or type it."""


class EarError(SpeechError):
    """The built-in recogniser's files are missing or damaged: install the program again."""


class VoskError(SpeechError):
    """The Vosk model can't be loaded: check the folder that CROSSLAY_VOSK_MODEL names."""


class VoiceError(SpeechError):
    """Speaking isn't available on this machine: read the answer instead."""


class MicrophoneError(SpeechError):
    """No microphone can be used here: connect one, or name a sound file instead (--from FILE)."""
