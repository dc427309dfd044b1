"""What can go wrong in the shell; each error is one plain sentence that says what is wrong and what to do.

CrosslayError                    (handlers.errors)
├── SettingsError                a setting can't be used
├── FileProblem                  a file can't be read or written
├── ScriptError                  a drill script is wrong; says the line
├── StoreError                   the record can't be opened or written
├── SpeechError                  speech doesn't work here; each class's docstring is the sentence that people see
│   ├── AudioError               the recording can't be used: Empty, Big, Long, NotAudio, Broken
│   ├── EarError, VoskError      a recogniser's files can't be used
│   └── VoiceError, MicrophoneError
└── RoomError                    a message couldn't be handed to its room
    ├── RetryAfter               the room asks to wait; only that room does
    ├── Unsure                   it may have arrived: it is sent again, marked
    └── Undeliverable            it will never arrive; not tried again
"""

from __future__ import annotations

from pathlib import Path

from handlers.errors import CrosslayError


class SettingsError(CrosslayError):
    """A setting can't be used."""

    def __init__(self, key: str, problem: str) -> None:
        self.key = key
        super().__init__(f"{key}: {problem}")


class FileProblem(CrosslayError):  # noqa: N818 - what people are told, by its plain name
    """A file can't be read or written."""

    def __init__(self, path: Path | str, problem: str) -> None:
        self.path = Path(path)
        super().__init__(f"{path}: {problem}")


class ScriptError(CrosslayError):
    """A drill script is wrong."""

    def __init__(self, path: str, line: int, problem: str) -> None:
        self.line = line
        super().__init__(f"{path}, line {line}: {problem}")


class StoreError(CrosslayError):
    """The record can't be opened or written."""


class RoomError(CrosslayError):
    """A message couldn't be handed to its room."""


class RetryAfter(RoomError):  # noqa: N818 - the room's word, not a fault
    """The room asks to wait before the next message."""

    def __init__(self, seconds: float) -> None:
        self.seconds = seconds
        super().__init__(f"The room asks to wait {seconds:g} s.")


class Unsure(RoomError):  # noqa: N818
    """The connection broke while sending: the message may or may not have arrived."""


class Undeliverable(RoomError):  # noqa: N818
    """The room refuses the message for good."""


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
