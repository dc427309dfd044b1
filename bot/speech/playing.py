"""Plays spoken answers on the loudspeaker, through sounddevice; without it or PortAudio, it says so in one sentence."""

from __future__ import annotations

from bot.errors import VoiceError
from bot.speech.voice import Speech

NO_PACKAGE = "Answers can't be spoken aloud: install the Python package sounddevice (pip install 'crosslay[listen]')."
NO_PORTAUDIO = (
    "Answers can't be spoken aloud: PortAudio is missing; install it (Debian and Ubuntu: apt install libportaudio2)."
)
NO_DEVICE = "Answers can't be spoken aloud: no loudspeaker can be used."


class Loudspeaker:
    """The default sound output. Raises VoiceError where there is none."""

    def __init__(self) -> None:
        try:
            import sounddevice
        except ImportError as fault:
            raise VoiceError(NO_PACKAGE) from fault
        except OSError as fault:
            raise VoiceError(NO_PORTAUDIO) from fault
        try:
            sounddevice.check_output_settings()
        except (sounddevice.PortAudioError, ValueError) as fault:
            raise VoiceError(NO_DEVICE) from fault
        self._device = sounddevice

    def stop(self) -> None:
        """Stop what is being played; `play` comes back."""
        self._device.stop()

    def play(self, speech: Speech) -> None:
        """Play it to its end. Blocking. Raises VoiceError when the device has gone."""
        try:
            self._device.play(speech.pcm, speech.rate)
            self._device.wait()
        except self._device.PortAudioError as fault:
            raise VoiceError(NO_DEVICE) from fault
