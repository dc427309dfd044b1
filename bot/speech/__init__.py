"""Run-time speech: decoding audio, finding the voice, recognising it, deciding what to do with the guess, speaking.

Import the module you need (`bot.speech.hearing`, `bot.speech.voice`); this file imports nothing, so that a typed
message never pays for onnxruntime or PyAV.
"""
