"""Messages of invented departments in their own wording, written without sight of the reader, with what is right.

`python -m tests.bot.message.blind [-v] [SET …]` tells how many are answered rightly, by group. First readings, before
anything was mended by them: harbor 48.0 % right, 3.3 % wrong; highdesert 60.7 and 1.3; medical_city 70.0 and 12.0;
medical_county 69.0 and 9.0 (most of its wrong ones: a part of several left out).

A row: `text` and `group`; `intent` with `answer` (these keys, numbers within 1 % or 1), or `expect`:
    refused                that command, refused; a question back is as good
    question_or_refusal    nothing answered; with `nothing`, nothing logged or started
    no_stamp               no benchmark, strategy or water source, whatever else is said
    partial_or_question    that benchmark with its place, or a question
    commands               all of `intents` and of `answers`, in any order
`either`: intents, or "question", that are right too; `never`: intents that are wrong whatever else is right.
"""
