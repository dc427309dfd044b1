"""Voice messages and audio files on Telegram: heard, read back, answered; what can't be heard gets one sentence."""

import io
import wave
from functools import cache

import numpy as np
import pytest
from scipy.signal import resample_poly

from bot.speech.voice import EspeakVoice, Speech
from tests.bot.rooms.at_work import all_read, at_work
from tests.telegram.server import BotApiServer

LAY = "two lines, two hundred feet, one and three quarter, second floor"


@cache
def spoken(words: str) -> Speech:
    """A synthetic voice says it (espeak-ng, from its wheel)."""
    return EspeakVoice().speak(words)


def voice_message(words: str) -> bytes:
    """As telephones record it: OGG/Opus."""
    return spoken(words).as_voice_message()


def wav(samples: np.ndarray[tuple[int, ...], np.dtype[np.int16]], rate: int, channels: int) -> bytes:
    """A WAV file of 16-bit samples."""
    file = io.BytesIO()
    with wave.open(file, "wb") as out:
        out.setnchannels(channels)
        out.setsampwidth(2)
        out.setframerate(rate)
        out.writeframes(samples.astype("<i2").tobytes())
    return file.getvalue()


async def test_a_voice_message_gets_the_right_pressure(telegram: BotApiServer) -> None:
    dana, lee = telegram.person("Dana"), telegram.person("Lee")
    crew = telegram.group("Engine 12", dana, lee)
    async with at_work(telegram, dana.private, crew, hearing=True):
        asked = dana.sends_voice(voice_message(LAY))
        answer = await dana.private.hears("175 psi, 300 gpm", timeout_s=30)
        assert answer.reply_to is asked
        assert (answer.text or "").startswith("Heard: two lines two hundred feet one and three quarter second floor\n")
        lee.sends_voice(voice_message("water on the fire"), crew)
        await crew.hears("Water on the fire", timeout_s=30)
    assert telegram.refused == []


async def test_a_question_asked_by_voice_is_answered_by_a_button(telegram: BotApiServer) -> None:
    dana = telegram.person("Dana")
    async with at_work(telegram, dana.private, hearing=True):
        dana.sends_voice(voice_message("all clear"))
        question = await dana.private.hears("primary or the secondary", timeout_s=30)
        dana.presses(question, question.buttons[0])
        answer = await dana.private.hears("rimary", timeout_s=30)
        assert answer.message_id > question.message_id


async def test_an_audio_file_of_a_telephone_line_is_heard_too(telegram: BotApiServer) -> None:
    dana = telegram.person("Dana")
    said = spoken(LAY)
    narrow = np.asarray(resample_poly(said.pcm, 8_000, said.rate), dtype=np.int16)
    stereo = np.repeat(narrow[:, None], 2, axis=1)
    async with at_work(telegram, dana.private, hearing=True):
        dana.sends_audio(wav(stereo, 8_000, 2), file_name="report.wav", mime_type="audio/wav", as_document=True)
        answer = await dana.private.hears("Heard: two lines two hundred feet", timeout_s=30)
        assert "175 psi" in (answer.text or "")


async def test_what_cannot_be_heard_gets_one_sentence_and_loses_nothing(telegram: BotApiServer) -> None:
    dana = telegram.person("Dana")
    silence = wav(np.zeros(16_000 * 3600, dtype=np.int16), 4_000, 1)
    bad = {
        "not audio": b"This is no sound at all. " * 40,
        "cut short": voice_message(LAY)[:900],
        "empty": b"",
        "25 MB": bytes(25_000_000),
        "an hour of silence": silence,
    }
    async with at_work(telegram, dana.private, hearing=True) as work:
        for number, (what, content) in enumerate(bad.items()):
            dana.sends_voice(content, duration_s=3600 if "hour" in what else 3)
            dana.says("two lines, 200 feet, 1.75")
            await dana.private.hears("170 psi", timeout_s=30)
            assert len(dana.private.from_bot) == 2 * (number + 1)
        await all_read(telegram, work)
        async with work.station.store.begin() as tx:
            from sqlalchemy import func, select

            from bot.store.tables import inbox

            kept = await tx.execute(select(func.count()).where(inbox.c.voice.is_not(None)))
            assert kept.scalar() == 0
    for sentence in [m.text or "" for m in dana.private.from_bot][::2]:
        assert 20 < len(sentence) < 160
        assert "psi" not in sentence
        assert "type it" in sentence


@pytest.mark.parametrize("fault", [{"drop": True}, {"status": 500}, {"lose_answer": True}])
async def test_a_download_that_fails_once_is_tried_again(telegram: BotApiServer, fault: dict[str, object]) -> None:
    dana = telegram.person("Dana")
    telegram.fault("file", **fault)  # type: ignore[arg-type]
    async with at_work(telegram, dana.private, hearing=True):
        dana.sends_voice(voice_message(LAY))
        answer = await dana.private.hears("175 psi", timeout_s=30)
        assert (answer.text or "").startswith("Heard:")


async def test_a_mayday_in_another_room_waits_for_no_download(telegram: BotApiServer) -> None:
    dana, lee = telegram.person("Dana"), telegram.person("Lee")
    async with at_work(telegram, dana.private, lee.private, hearing=True):
        dana.says("on scene")
        await dana.private.hears("n scene")
        hanging = telegram.fault("file", hold=True)
        dana.sends_voice(voice_message(LAY))
        await telegram.until(lambda: hanging.hits == 1)
        lee.says("mayday mayday mayday")
        await dana.private.hears("MAYDAY reported")
        assert not any("175" in (m.text or "") for m in dana.private.from_bot)
        hanging.release()
        await dana.private.hears("175 psi", timeout_s=30)
