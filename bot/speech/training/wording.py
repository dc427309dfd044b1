"""How the trade says numbers, sizes, places and names: random spoken wordings for training sentences.

Everything is lower-case words without digits, as the recogniser writes it ("one seventy five", "psi", "gpm").
"""

from collections.abc import Callable
from random import Random

ONES = ["zero", *["one", "two", "three", "four", "five", "six", "seven", "eight", "nine"]]
TEENS = ["ten", "eleven", "twelve", "thirteen", "fourteen", "fifteen", "sixteen", "seventeen", "eighteen", "nineteen"]
TENS = ["twenty", "thirty", "forty", "fifty", "sixty", "seventy", "eighty", "ninety"]
ORDINALS = ["first", "second", "third", "fourth", "fifth", "sixth", "seventh", "eighth", "ninth", "tenth"]
ORDINALS += ["eleventh", "twelfth"]

HOSES = [
    "one and three quarter", "one and three quarters", "one and three quarter inch", "inch and three quarter",
    "one three quarter", "one point seven five", "one seventy five", "two and a half", "two and a half inch",
    "two and one half", "two point five", "deuce and a half", "three inch", "four inch", "five inch",
    "inch and a half", "one and a half inch", "one inch", "three quarter inch",
]  # fmt: skip
TIPS = [
    "seven eighths", "seven eighths inch", "fifteen sixteenths", "one inch", "inch", "one and one eighth",
    "one and an eighth", "inch and an eighth", "one and a quarter", "one and one quarter", "inch and a quarter",
    "one and three eighths", "inch and three eighths", "one and a half inch", "one and a half", "inch and a half",
    "one and three quarter inch", "two inch", "three quarter inch", "half inch",
]  # fmt: skip
COMPANIES = ["engine", "truck", "ladder", "rescue", "squad", "battalion", "medic", "ambulance", "tanker", "tender"]
COMPANIES += ["chief", "car"]
LINES = [
    "crosslay one", "crosslay two", "the crosslay", "the bumper line", "bumper line", "the rear line", "rear line",
    "the deck gun", "deck gun", "line one", "line two", "line three", "the front line", "the two and a half",
    "the inch and three quarter", "the second line", "the first line", "the backup line", "the attack line",
    "the blitz line", "the monitor", "the standpipe", "the supply line", "the trash line", "the skid load",
    "the leader line", "discharge one", "discharge four", "the officer side discharge", "the other crosslay",
    "the high rise pack", "the master stream", "the aerial", "the portable monitor", "the wye",
]  # fmt: skip
STREETS = ["alder", "maple", "harbor", "mill", "river", "station", "college", "church", "bridge", "front", "water"]
STREETS += ["park", "pine", "cedar", "dock"]
DRUGS = ["epi", "epinephrine", "naloxone", "amiodarone", "aspirin", "nitro", "atropine", "adenosine"]
STREET_KINDS = ["street", "avenue", "road", "lane", "drive", "court"]


def below_hundred(value: int) -> str:
    """Words of 0..99."""
    if value < 10:
        return ONES[value]
    if value < 20:
        return TEENS[value - 10]
    return TENS[value // 10 - 2] + ("" if value % 10 == 0 else " " + ONES[value % 10])


def number(rng: Random, value: int) -> str:
    """One of the ways people say a whole number of 0..9999 ("two fifty", "two hundred and fifty", "two five zero")."""
    if value >= 100 and rng.random() < 0.04:
        return " ".join(ONES[int(digit)] for digit in str(value))
    if value < 1000:
        return _below_thousand(rng, value)
    hundreds, rest = divmod(value, 100)
    thousands, below = divmod(value, 1000)
    if below == 0:
        return f"{ONES[thousands]} thousand"
    if rest == 0:
        return rng.choice(
            [f"{below_hundred(hundreds)} hundred", f"{ONES[thousands]} thousand {ONES[hundreds % 10]} hundred"]
        )
    whole = f"{ONES[thousands]} thousand {_below_thousand(rng, below)}"
    return whole if rest < 10 else rng.choice([whole, f"{below_hundred(hundreds)} {below_hundred(rest)}"])


def _below_thousand(rng: Random, value: int) -> str:
    if value < 100:
        return below_hundred(value)
    hundreds, rest = divmod(value, 100)
    head = ONES[hundreds]
    if rest == 0:
        return f"{head} hundred"
    short = f"{head} oh {ONES[rest]}" if rest < 10 else f"{head} {below_hundred(rest)}"
    forms = [short, f"{head} hundred {below_hundred(rest)}", f"{head} hundred and {below_hundred(rest)}"]
    return rng.choices(forms, [55, 33, 12])[0]


def _psi(rng: Random) -> str:
    kind = rng.random()
    value = rng.randrange(2, 31) * 10 if kind < 0.4 else rng.randrange(3, 61) * 5 if kind < 0.7 else rng.randint(8, 320)
    return number(rng, value)


def _gpm(rng: Random) -> str:
    kind = rng.random()
    if kind < 0.45:
        return number(rng, rng.randrange(3, 80) * 10)
    if kind < 0.85:
        common = [60, 95, 100, 125, 150, 160, 175, 185, 200, 210, 250, 265, 300, 325, 350, 400, 500, 600, 750]
        return number(rng, rng.choice([*common, 800, 1000, 1250, 1500, 1750, 2000]))
    return number(rng, rng.randint(20, 999))


def _feet(rng: Random) -> str:
    value = rng.choice([*range(50, 500, 50), *range(50, 500, 50), *range(500, 1300, 50), rng.randint(30, 999)])
    return number(rng, value)


def _length(rng: Random) -> str:
    return _feet(rng) + rng.choice([" feet", " feet", " feet", " foot"])


def _hose(rng: Random) -> str:
    return rng.choice(HOSES)


def _tip(rng: Random) -> str:
    return rng.choice(TIPS) + rng.choice([" tip", " tip", " smooth bore", " tip", ""])


def _nozzle(rng: Random) -> str:
    return rng.choice(["fog nozzle", "fog", "smooth bore", "combination nozzle", "combination", *[_tip(rng)] * 4])


def _floor(rng: Random) -> str:
    if rng.random() < 0.85:
        return rng.choice(ORDINALS[:6] + ORDINALS) + " floor"
    return rng.choice(
        ["basement", "attic", "roof", "ground floor", "cellar", "top floor", "division two", "division three"]
    )


def _company(rng: Random) -> str:
    return f"{rng.choice(COMPANIES)} {below_hundred(rng.randint(1, 60))}"


def _clock(rng: Random) -> str:
    hour, minute = rng.randint(0, 23), rng.randint(0, 59)
    if minute == 0:
        return f"{below_hundred(hour)} hundred"
    return f"{below_hundred(hour)} {'oh ' if minute < 10 else ''}{below_hundred(minute)}"


def _address(rng: Random) -> str:
    house = " ".join(below_hundred(int(part)) for part in (str(rng.randint(1, 99)), str(rng.randint(10, 99))))
    return f"{house} {rng.choice(STREETS)} {rng.choice(STREET_KINDS)}"


def _digits(rng: Random) -> str:
    return " ".join(rng.choice([*ONES, "oh"]) for _ in range(rng.randint(2, 7)))


def _gallons(rng: Random) -> str:
    return number(rng, rng.choice([50, 100, 150, 200, 250, 300, 400, 500, 600, 750, 1000, 1500, 2000, 2500, 3000]))


SLOTS: dict[str, Callable[[Random], str]] = {
    "psi": _psi,
    "gpm": _gpm,
    "feet": _feet,
    "length": _length,
    "hose": _hose,
    "tip": _tip,
    "nozzle": _nozzle,
    "floor": _floor,
    "company": _company,
    "line": lambda rng: rng.choice(LINES),
    "n": lambda rng: rng.choice(ONES[1:]),
    "few": lambda rng: rng.choice(ONES[2:5]),
    "minutes": lambda rng: below_hundred(rng.randint(1, 45)),
    "percent": lambda rng: below_hundred(rng.randint(1, 40)),
    "gallons": _gallons,
    "cylinder": lambda rng: number(rng, rng.randrange(6, 56) * 100 if rng.random() < 0.8 else rng.randint(500, 5500)),
    "clock": _clock,
    "address": _address,
    "digits": _digits,
    "any": lambda rng: number(rng, rng.randint(0, 9999) if rng.random() < 0.5 else rng.randint(0, 300)),
    "side": lambda rng: rng.choice(["alpha", "bravo", "charlie", "delta"]),
    "who": lambda rng: rng.choice(["command", "pump", "engine twelve", "driver", "cap", "chief", _company(rng)]),
    "drug": lambda rng: rng.choice(DRUGS),
}
