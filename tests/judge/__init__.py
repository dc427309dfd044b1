"""The recipe of the learned reader's weights: sentences with what they mean, training, export, fitting, measuring.

`python -m tests.judge all` does it all; README of the steps: `python -m tests.judge --help`. It stands here because it
reads the corpus and judges by its verdicts.
"""
