"""What isn't a recording is never opened, and what is opened may use nothing but its own bytes."""

from __future__ import annotations

import io
import os
import random
from pathlib import Path

import av
import numpy as np
import pytest

from bot.errors import AudioError, BrokenAudioError, NotAudioError
from bot.speech import container
from bot.speech.audio import SAMPLE_RATE, decode
from bot.speech.container import OPTIONS, kind_of
from tests.bot.speech.test_audio import RATE, TONE, recording

SDP = "v=0\r\no=- 0 0 IN IP4 127.0.0.1\r\ns=x\r\nc=IN IP4 127.0.0.1\r\nt=0 0\r\nm=audio {port} RTP/AVP 0\r\n"
HOSTILE = {
    "a session description": SDP.format(port=5004),
    "a play list": "#EXTM3U\n#EXT-X-TARGETDURATION:5\n#EXTINF:5,\nhttp://127.0.0.1:9/a.ts\n#EXT-X-ENDLIST\n",
    "a play list of this machine's files": "#EXTM3U\n#EXTINF:5,\nfile:///etc/passwd\n#EXT-X-ENDLIST\n",
    "a script that joins files": "ffconcat version 1.0\nfile '/etc/passwd'\n",
    "a manifest": '<?xml version="1.0"?><MPD xmlns="urn:mpeg:dash:schema:mpd:2011" type="static"></MPD>',
    "metadata": ";FFMETADATA1\ntitle=x\n",
    "subtitles": "1\n00:00:01,000 --> 00:00:02,000\nwater on the fire\n",
    "an image of numbers": "P6\n2 2\n255\n" + "x" * 12,
    "a web page": "<html><audio src='http://127.0.0.1:9/'></audio></html>",
}
"""Files that a media library would take for media, and go elsewhere."""


@pytest.mark.parametrize("what", HOSTILE)
def test_what_is_no_recording_is_never_opened(what: str, monkeypatch: pytest.MonkeyPatch) -> None:
    def opened(*given: object, **named: object) -> None:
        raise AssertionError("it was opened")

    monkeypatch.setattr(av, "open", opened)
    for before in ("", "\ufeff", "\n\n", " "):
        with pytest.raises(NotAudioError):
            decode((before + HOSTILE[what]).encode())


def test_the_library_may_read_no_other_file(tmp_path: Path) -> None:
    """Even if a script got as far as its own demuxer."""
    (tmp_path / "other.wav").write_bytes(recording(TONE, "wav", "pcm_s16le", RATE))
    script = f"ffconcat version 1.0\nfile '{tmp_path}/other.wav'\n".encode()
    trusting = {"safe": "0", "protocol_whitelist": "file"}
    with av.open(io.BytesIO(script), format="concat", options=trusting) as opened:
        assert opened.streams.audio, "so it would be"
    bound = {"safe": "0", "protocol_whitelist": OPTIONS["protocol_whitelist"]}
    with pytest.raises(av.FFmpegError):
        av.open(io.BytesIO(script), format="concat", options=bound)


@pytest.mark.parametrize(
    ("made", "kind"),
    [
        (("ogg", "libopus", 48_000), "ogg"),
        (("webm", "libopus", 48_000), "matroska"),
        (("mp4", "aac", 44_100), "mov"),
        (("mp3", "libmp3lame", 44_100), "mp3"),
        (("adts", "aac", 44_100), "aac"),
        (("wav", "pcm_s16le", 8_000), "wav"),
        (("w64", "pcm_s16le", 8_000), "w64"),
        (("caf", "pcm_s16le", 8_000), "caf"),
        (("flac", "flac", 16_000), "flac"),
    ],
)
def test_recordings_are_known_by_their_first_bytes(made: tuple[str, str, int], kind: str) -> None:
    whole = recording(TONE, *made)
    assert kind_of(whole) == kind
    assert kind_of(whole[:64]) in (kind, None)
    assert len(decode(whole)) / SAMPLE_RATE == pytest.approx(3, abs=0.2)


def test_a_video_note_is_heard_and_its_picture_never_decoded() -> None:
    file = io.BytesIO()
    with av.open(file, "w", format="mp4") as out:
        picture = out.add_stream("mpeg4", rate=10)
        picture.width = picture.height = 64
        picture.pix_fmt = "yuv420p"
        sound = out.add_stream("aac", rate=RATE, layout="mono")
        for _ in range(30):
            out.mux(picture.encode(av.VideoFrame.from_ndarray(np.zeros((64, 64, 3), np.uint8), format="rgb24")))
        out.mux(picture.encode(None))
        frame = av.AudioFrame.from_ndarray((TONE * 32_767).astype(np.int16)[None], format="s16", layout="mono")
        frame.sample_rate = RATE
        resampler = av.AudioResampler(format="fltp", layout="mono", rate=RATE, frame_size=1024)
        for part in [*resampler.resample(frame), *resampler.resample(None)]:
            out.mux(sound.encode(part))
        out.mux(sound.encode(None))
    assert len(decode(file.getvalue())) / SAMPLE_RATE == pytest.approx(3, abs=0.2)
    assert "mpeg4" not in container.DECODERS


@pytest.mark.parametrize(("rate", "channels"), [(1, 1), (1_000, 1), (2_000_000, 1), (8_000, 64)])
def test_a_crafted_rate_or_number_of_channels_is_refused(rate: int, channels: int) -> None:
    """A second of one sample would become sixteen thousand: it is refused before that."""
    frame_bytes = 2 * channels
    content = bytes(frame_bytes * 4_000)
    fmt = b"".join(
        number.to_bytes(size, "little")
        for number, size in ((1, 2), (channels, 2), (rate, 4), (rate * frame_bytes, 4), (frame_bytes, 2), (16, 2))
    )
    chunks = b"WAVEfmt " + len(fmt).to_bytes(4, "little") + fmt + b"data" + len(content).to_bytes(4, "little") + content
    with pytest.raises(AudioError):
        decode(b"RIFF" + len(chunks).to_bytes(4, "little") + chunks)


def test_bytes_of_every_kind_give_a_recording_or_one_of_our_errors() -> None:
    """Random bytes behind every signature; the long run is asked for by CROSSLAY_LAWS=full."""
    rounds = 4_000 if os.environ.get("CROSSLAY_LAWS") == "full" else 120
    draw = random.Random(13)
    beginnings = [beginning for beginning, _ in container._BEGINNINGS]
    beginnings += [b"ID3\x04\x00\x00\x00\x00\x00\x0a", b"\x00\x00\x00\x18ftypM4A ", b"RIFF\xff\xff\xff\xffWAVE"]
    beginnings += [b"\xff\xf1", b"\xff\xfb\x90"]
    wholes = [recording(TONE[:4_000], *made) for made in (("ogg", "libopus", 48_000), ("wav", "pcm_s16le", 8_000))]
    opened = 0
    for number in range(rounds):
        if number % 2:
            data = draw.choice(beginnings) + draw.randbytes(draw.randrange(2_000))
        else:
            changed = bytearray(draw.choice(wholes))
            for _ in range(draw.randrange(1, 30)):
                changed[draw.randrange(len(changed))] = draw.randrange(256)
            data = bytes(changed[: draw.randrange(1, len(changed) + 1)])
        try:
            samples = decode(data)
        except AudioError as error:
            opened += isinstance(error, BrokenAudioError)
            continue
        opened += 1
        assert np.isfinite(samples).all()
    assert opened > rounds // 10, "some of them got as far as the library"
