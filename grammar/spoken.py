"""How whole numbers and times are said: every usual wording of a value, in words.

The opposite way, words to numbers, is `grammar.numbers`.
"""

from __future__ import annotations

import re
from functools import cache

ONES = ("zero", "one", "two", "three", "four", "five", "six", "seven", "eight", "nine")
TEENS = (
    "ten", "eleven", "twelve", "thirteen", "fourteen", "fifteen", "sixteen", "seventeen", "eighteen", "nineteen",
)  # fmt: skip
TENS = ("zero", "ten", "twenty", "thirty", "forty", "fifty", "sixty", "seventy", "eighty", "ninety")


def below_hundred(value: int) -> str:
    """The one wording of 0..99."""
    if value < 10:
        return ONES[value]
    if value < 20:
        return TEENS[value - 10]
    tens, ones = divmod(value, 10)
    return TENS[tens] + (f" {ONES[ones]}" if ones else "")


@cache
def wordings(value: int) -> tuple[str, ...]:
    """All usual wordings of 0..9999, the commonest first: 205 -> "two oh five", "two hundred five" …"""
    if value < 100:
        return (below_hundred(value),)
    if value < 1000:
        return tuple(_hundreds(value))
    return tuple(dict.fromkeys(_thousands(value)))


def _hundreds(value: int) -> list[str]:
    hundreds, rest = divmod(value, 100)
    head = ONES[hundreds]
    if rest == 0:
        return [f"{head} hundred", *(["a hundred"] if hundreds == 1 else [])]
    tail = below_hundred(rest)
    short = f"{head} oh {tail}" if rest < 10 else f"{head} {tail}"
    digits = f"{head} {'oh' if rest < 10 else ONES[rest // 10]} {ONES[rest % 10]}"
    said = [short, f"{head} hundred {tail}", f"{head} hundred and {tail}"]
    if hundreds == 1:
        said += [f"a hundred {tail}", f"a hundred and {tail}"]
    return list(dict.fromkeys([*said, digits]))


def _thousands(value: int) -> list[str]:
    thousands, rest = divmod(value, 1000)
    heads = [f"{ONES[thousands]} thousand", *(["a thousand"] if thousands == 1 else [])]
    if rest == 0:
        return heads
    said = []
    hundreds, below = divmod(value, 100)
    if thousands and hundreds % 10:
        said += [f"{below_hundred(hundreds)} hundred" + (f" {below_hundred(below)}" if below else "")]
    if below and hundreds % 10:
        said += [f"{below_hundred(hundreds)} {below_hundred(below) if below >= 10 else 'oh ' + ONES[below]}"]
    tails = (
        [text for text in _hundreds(rest) if "hundred" in text and not text.startswith("a ")]
        if rest >= 100
        else [below_hundred(rest)]
    )
    return said + [f"{heads[0]} {tail}" for tail in tails]


def clock_wordings(hour: int, minute: int) -> tuple[str, ...]:
    """A clock time: "fourteen twelve", "fourteen hundred", "oh nine thirty", "nine oh five"."""
    heads = [below_hundred(hour)] if hour else ["zero"]
    if hour < 10:
        heads.append(f"oh {ONES[hour]}" if hour else "zero zero")
    tail = "hundred" if minute == 0 else f"oh {ONES[minute]}" if minute < 10 else below_hundred(minute)
    return tuple(f"{head} {tail}" for head in heads)


def spoken(text: str) -> str:
    """A name as it is said, in lower-case words: "Crosslay 1" -> "crosslay one", "Engine 12" -> "engine twelve"."""
    text = re.sub(r"(\d+)", lambda found: f" {_say(int(found[1]))} ", text.lower().replace("'", ""))
    return " ".join(re.sub(r"[^a-z ]", " ", text).split())


def _say(value: int) -> str:
    return wordings(value)[0] if value < 10_000 else " ".join(ONES[int(digit)] for digit in str(value))
