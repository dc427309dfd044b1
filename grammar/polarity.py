"""What bears on what is said: negation, hope, condition, order and question, clause by clause (convention 2)."""

from __future__ import annotations

from collections.abc import Iterator

from grammar.items import POLARITY, Item
from grammar.vocabulary import word_list

_STOPS = frozenset(",.;:!?\n")
_HARD = frozenset(".;!?\n")


def mark_polarity(items: list[Item]) -> bool:
    """Marks each item with what bears on it in its clause: not, hope, cond, order, ask.

    True when the message asks anything.
    """
    asks = _asking(items)
    for lo, hi in _clauses(items):
        marks: set[str] = set()
        for k in range(lo, hi):
            item = items[k]
            if item.text == "but" or (
                item.kind == "term" and "and" in item.concepts and _new_subject(items, k + 1, hi)
            ):
                marks = set()
                continue
            if marks or k in asks:
                item.polarity = frozenset(marks | ({"ask"} if k in asks else set()))
            if _answers_no(items, k, lo, hi):
                item.form = "answers"
            elif item.text == "can" and k > lo and items[k - 1].text == "you":
                marks.add("order")  # "you can charge crosslay two"
            else:
                marks |= item.concepts & POLARITY
            if _in_time(items, k):
                marks.add("hope")
        _backwards(items, lo, hi)
    return bool(asks)


def _answers_no(items: list[Item], k: int, lo: int, hi: int) -> bool:
    """ "No it's under control": the no answers somebody and negates nothing after it."""
    if items[k].text == "negative" and k == hi - 1 and k > lo:
        return True  # "primary complete, negative": nothing found, or not complete?
    return (
        k == lo
        and items[k].text == "no"
        and k + 1 < hi
        and items[k + 1].text.split()[0] in ("it", "that", "we", "they", "i", "the")
    )


def _backwards(items: list[Item], lo: int, hi: int) -> None:
    """ "under control soon", "primary complete in five minutes", "all clear not yet"."""
    for k in range(lo, hi):
        item = items[k]
        late = item.text in word_list("polarity_after") or (item.text in ("not", "not yet") and k == hi - 1)
        if late or _in_time(items, k) or (item.kind == "time" and k > lo and items[k - 1].text == "by"):
            mark = "not" if "not" in item.concepts else "hope"
            for j in range(_own_clause(items, lo, k), k):
                items[j].polarity |= {mark}


def _own_clause(items: list[Item], lo: int, k: int) -> int:
    """Where the clause of item k begins: "… and tender 3 is ten minutes away" says nothing of what came before it."""
    for j in range(k - 2, lo, -1):
        if "and" in items[j].concepts and items[j + 1].kind == "unit" and items[j - 1].kind != "unit":
            return j + 1
    return lo


def _in_time(items: list[Item], k: int) -> bool:
    """ "in two minutes", "two minutes out": what is said is still to come."""
    item = items[k]
    before = items[k - 1].text if k else ""
    after = items[k + 1].text if k + 1 < len(items) else ""
    if item.kind == "num" and item.unit is None and before in ("in", "within") and item.form == "int":
        return k > 1 and item.number <= 60 and (k + 1 == len(items) or items[k + 1].kind == "sep")  # "coming out in 5"
    if item.kind != "num" or item.unit not in ("min", "s", "hr"):
        return False
    return before in ("in", "within", "about", "another", "give me", "give us") or after in ("out", "away", "from now")


def _new_subject(items: list[Item], k: int, hi: int) -> bool:
    while k < hi and items[k].free and items[k].text in ("the", "we", "our", "i", "i am", "im"):
        k += 1
    return k < hi and (items[k].kind == "unit" or not items[k].free)


def _clauses(items: list[Item]) -> Iterator[tuple[int, int]]:
    lo = 0
    for k, item in enumerate(items):
        if item.kind == "sep" and item.value in _STOPS:
            if k > lo:
                yield lo, k
            lo = k + 1
    if lo < len(items):
        yield lo, len(items)


def _asking(items: list[Item]) -> set[int]:
    """Positions of items inside a question."""
    inside: set[int] = set()
    clauses = list(_clauses(items))
    for c, (lo, hi) in enumerate(clauses):
        for k in range(lo + 1, hi - 1):  # "knocked down and are we under control"
            if "and" in items[k].concepts and asks_first(items, k + 1, hi):
                inside.update(range(k + 1, hi))
        marked = hi < len(items) and items[hi].value == "?"
        if asks_first(items, lo, hi) or _right(items, lo, hi):
            inside.update(range(lo, _asked_until(items, lo, hi)))
        elif marked:
            inside.update(range(lo, hi))
            if (
                c
                and all(i.text in word_list("polarity_tags") or i.free for i in items[lo:hi])
                and items[lo - 1].value == ","
            ):
                inside.update(range(*clauses[c - 1]))
    return inside


_WHOLE_QUESTIONS = frozenset(("elapsed", "inside_ask", "air_ask", "tank_time", "water_left", "board"))


def _asked_until(items: list[Item], lo: int, hi: int) -> int:
    """Where a question ends: "who is inside and engine 9 is out" tells something after its "and"."""
    for k in range(lo + 1, hi - 1):
        whole = any(c in _WHOLE_QUESTIONS or c.startswith("ask_") for item in items[lo:k] for c in item.concepts)
        if whole and "and" in items[k].concepts and _new_subject(items, k + 1, hi):
            return k
    return hi


def _right(items: list[Item], lo: int, hi: int) -> bool:
    """ "primary is done right", "under control huh"."""
    return (
        hi - lo > 2
        and items[hi - 1].text in ("right", "huh", "eh")
        and items[hi - 2].text not in ("the", "to", "going")
    )


def asks_first(items: list[Item], lo: int, hi: int) -> bool:
    """The clause begins as a question does ("is the …", "have we …", "how …")."""
    k = lo
    called = items[lo].kind == "unit" or (
        lo + 1 < hi and items[lo + 1].kind == "unit" and items[lo].text not in word_list("polarity_aux")
    )
    while k < hi and (
        items[k].kind == "unit" or items[k].text in ("hey", "ok", "okay", "so", "and", "command", "dispatch", "driver")
    ):
        k += 1
    words = [w for i in items[k : k + 3] for w in i.text.split()][:4]
    if not words:
        return False
    first, second = words[0], words[1] if len(words) > 1 else ""
    if first in word_list("polarity_asking") or " ".join(words[:2]) in (
        "status of",
        "status on",
        "when was",
        "when did",
        "when is",
        "when will",
    ):
        return True
    if first in ("can", "could", "will", "would") and second == "you":
        return False
    if first not in word_list("polarity_aux"):
        return False
    if called:
        return second in word_list("polarity_pronouns") and first not in ("has", "have", "had")
    return (
        second in word_list("polarity_subjects")
        or (k + 1 < hi and items[k + 1].kind == "unit")
        or (first in ("is", "are", "was", "did", "does"))
    )
