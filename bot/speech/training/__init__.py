"""Making the recogniser's weights: sentences, synthetic voices, noise, training, averaging and export.

Nothing here runs when the program runs: torch, the voices and the rest come with the `train` extra
(`pip install "crosslay[train]"`). Each step is one command of `python -m bot.speech.training`:

    sentences   text to be spoken: commands, free wording, negations, chatter, ordinary English
    synthesise  those sentences in many synthetic voices, one shard of clips
    augment     a few clips with noise, room, radio and codec, as WAV files to listen to
    train       fine-tune Whisper tiny.en on shards, with noise made afresh for every clip
    average     mix tuned and start weights, the share chosen on validation clips
    export      the ONNX files and the token table that the program ships
    evaluate    words and sentences right on validation clips, clean to 5 dB

The voices and sentences of the speech bench (`python -m tests.bench.speech`) never enter training:
`voices.HELD_OUT_ACCENTS` and its note name the voices, `sentences.is_held_out` splits the sentences by a hash.
"""
