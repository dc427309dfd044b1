"""What a recording's file is, by its first bytes, before any library opens it; and how little that library may then do.

A media library opens whatever it takes a file for: a few lines of text can be a session description, a play list or a
script that make it listen on the network or read other files. So the kind is decided here, from the published
signatures of the formats below, and named to the library, which may use no protocol, follow no reference and open no
decoder but those of sound.

Signatures: Ogg RFC 3533, Matroska/WebM (EBML) RFC 8794, ISO base media ISO/IEC 14496-12, RIFF/WAVE and RF64 EBU Tech
3306, FLAC RFC 9639, ADTS ISO/IEC 13818-7, MPEG audio ISO/IEC 11172-3, AMR RFC 4867; ID3v2, CAF and Wave64 from memory.
"""

from __future__ import annotations

import io

import av
import av.container

MOST_STREAMS = 8
MOST_CHANNELS = 8
RATES = range(4_000, 192_001)
"""Samples a second of what is decoded."""
DECODERS = (
    "opus", "libopus", "vorbis", "libvorbis", "speex", "libspeex", "flac", "alac", "aac", "aac_fixed", "mp3",
    "mp3float", "mp2", "mp2float", "amrnb", "libopencore_amrnb", "amrwb", "libopencore_amrwb", "gsm", "gsm_ms",
    "adpcm_ms", "adpcm_ima_wav", "pcm_u8", "pcm_s16le", "pcm_s16be", "pcm_s24le", "pcm_s24be", "pcm_s32le",
    "pcm_s32be", "pcm_f32le", "pcm_f32be", "pcm_mulaw", "pcm_alaw",
)  # fmt: skip
OPTIONS = {
    "protocol_whitelist": "none",  # no such protocol: nothing but the bytes at hand is read
    "codec_whitelist": ",".join(DECODERS),
    "max_streams": str(MOST_STREAMS),
    "probesize": "2000000",
    "enable_drefs": "0",  # an MP4 may name other files as its sound
}
_BEGINNINGS = (
    (b"OggS", "ogg"),
    (b"\x1aE\xdf\xa3", "matroska"),
    (b"fLaC", "flac"),
    (b"caff", "caf"),
    (b"#!AMR", "amr"),
    (b"riff\x2e\x91\xcf\x11\xa5\xd6\x28\xdb\x04\xc1\x00\x00", "w64"),
)


def kind_of(data: bytes) -> str | None:
    """The demuxer for a recording's bytes; None for everything that is no recording."""
    if data.startswith(b"ID3"):
        return _frames(data[10 + _syncsafe(data[6:10]) :])
    if data[4:8] == b"ftyp":
        return "mov"
    if data[:4] in (b"RIFF", b"RF64") and data[8:12] == b"WAVE":
        return "wav"
    return next((kind for beginning, kind in _BEGINNINGS if data.startswith(beginning)), None) or _frames(data)


def open_recording(data: bytes) -> av.container.InputContainer | None:
    """The opened container; None for what is no recording. Raises what PyAV raises for broken ones."""
    kind = kind_of(data)
    if kind is None:
        return None
    own = {**OPTIONS} if kind == "mov" else {key: value for key, value in OPTIONS.items() if key != "enable_drefs"}
    return av.open(io.BytesIO(data), mode="r", format=kind, options=own, metadata_errors="ignore")


def is_playable(container: av.container.InputContainer) -> bool:
    """Whether it holds sound of a kind and size that is decoded."""
    if not container.streams.audio:
        return False
    sound: av.AudioCodecContext | None = container.streams.audio[0].codec_context  # None: no decoder is known
    if sound is None:
        return False
    return sound.name in DECODERS and sound.sample_rate in RATES and 1 <= sound.channels <= MOST_CHANNELS


def _frames(data: bytes) -> str | None:
    """Bare frames of AAC (ADTS) or MPEG audio, or FLAC behind a tag."""
    if data.startswith(b"fLaC"):
        return "flac"
    if len(data) < 4 or data[0] != 0xFF:
        return None
    if data[1] & 0xF6 == 0xF0:
        return "aac"
    layer, bit_rate, rate = data[1] >> 1 & 3, data[2] >> 4, data[2] >> 2 & 3
    return "mp3" if data[1] & 0xE0 == 0xE0 and layer and bit_rate != 15 and rate != 3 else None


def _syncsafe(size: bytes) -> int:
    """An ID3 tag's size: seven bits of each byte."""
    value = 0
    for byte in size:
        value = value << 7 | byte & 0x7F
    return value
