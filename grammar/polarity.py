"""What bears on what is said: negation, hope, condition, order and question, clause by clause (convention 2)."""

from __future__ import annotations

from grammar.items import POLARITY, Item
from grammar.lexicon import by_language
from grammar.questions import asked, clauses, lay_aside_address, new_subject
from grammar.tales import is_another_day
from grammar.vocabulary import word_list


def mark_polarity(items: list[Item]) -> bool:
    """Marks each item with what bears on it in its clause: not, hope, cond, order, tale, ask.

    True when the message asks anything.
    """
    asks = asked(items)
    lay_aside_address(items)
    words = f" {' '.join([item.text for item in items])} "
    quoted = any(f" {mark} " in words for mark in word_list("polarity_everywhere"))
    told = {"tale"} if quoted or is_another_day(words) else set()
    for lo, hi in clauses(items):
        _mark(items, lo, hi, asks, told)
        _backwards(items, lo, hi)
    return bool(asks)


def _mark(items: list[Item], lo: int, hi: int, asks: set[int], told: set[str]) -> None:
    """What bears on each item of a clause from before it."""
    marks = set(told)
    but, turned = word_list("polarity_but"), _turning_points()
    for k in range(lo, hi):
        item = items[k]
        ends = item.text in but or (item.kind == "term" and "and" in item.concepts and new_subject(items, k + 1, hi))
        if ends:
            marks = marks & {"hope"} if _gives_time(items, lo, k) else set(told)
            continue
        if marks or k in asks:
            item.polarity = frozenset(marks | ({"ask"} if k in asks else set()))
        own = item.concepts & POLARITY
        if item.text in turned and _answers_no(items, k, lo, hi):
            item.form, own = "answers", frozenset()
        elif item.text in turned and _allows(items, k, lo):
            own = frozenset(("order",))
        marks |= own
        if (item.kind == "num" and _in_time(items, k)) or (item.text in turned and _nearly(items, k, hi)):
            marks.add("hope")
        if item.text in turned and _begun(items, k, lo, hi):
            item.polarity |= {"order"}
            marks.add("order")


@by_language
def _turning_points() -> frozenset[str]:
    """Words that may turn what stands around them, by where they stand."""
    kinds = ("nothing", "no", "can", "nearly", "to_report", "wanted", "begun")
    return frozenset().union(*(word_list(f"polarity_{kind}") for kind in kinds))


def _allows(items: list[Item], k: int, lo: int) -> bool:
    """ "You can charge crosslay two"."""
    return items[k].text in word_list("polarity_can") and k > lo and items[k - 1].text in word_list("polarity_you")


def _nearly(items: list[Item], k: int, hi: int) -> bool:
    """ "It's about under control"."""
    states = word_list("polarity_states") | word_list("polarity_whole")
    return items[k].text in word_list("polarity_nearly") and k + 1 < hi and not items[k + 1].concepts.isdisjoint(states)


def _begun(items: list[Item], k: int, lo: int, hi: int) -> bool:
    """ "Secure me a water supply", "set up a RIT", "knock it down": a verb begins the clause, and what to do it to."""
    if items[k].kind not in ("term", "word") or k + 1 >= hi:
        return False
    text, after = items[k].text, items[k + 1]
    if text in word_list("polarity_to_report") and all(i.free or i.kind == "unit" for i in items[lo:k]):
        reported = not after.concepts.isdisjoint(word_list("polarity_reported"))
        return reported or after.text in word_list("polarity_report_when")
    if text in word_list("polarity_wanted") and k + 2 < hi and after.kind in ("unit", "person"):
        return any("exit" in item.concepts for item in items[k + 2 : hi])  # "I want truck 4 out"
    if text not in word_list("polarity_begun"):
        return False
    own = word_list("polarity_own")
    return after.text in word_list("polarity_ordered") and all(i.free and i.text not in own for i in items[lo:k])


def _gives_time(items: list[Item], lo: int, k: int) -> bool:
    """ "Give us a minute and the primary is complete": still to come, past the "and"."""
    return any(item.text in word_list("polarity_gives") for item in items[lo:k]) and items[k - 1].kind == "num"


def _answers_no(items: list[Item], k: int, lo: int, hi: int) -> bool:
    """ "No it's under control": the no answers somebody and negates nothing after it."""
    if items[k].text in word_list("polarity_nothing") and k == hi - 1 and k > lo:
        return True  # "primary complete, negative": nothing found, or not complete?
    begins = k == lo and items[k].text in word_list("polarity_no") and k + 1 < hi
    return begins and items[k + 1].text.split()[0] in word_list("polarity_answers")


def _backwards(items: list[Item], lo: int, hi: int) -> None:
    """ "under control soon", "primary complete in five minutes", "all clear not yet"."""
    after, last = word_list("polarity_after"), word_list("polarity_last")
    for k in range(lo, hi):
        item = items[k]
        late = item.text in after or (k == hi - 1 and item.text in last)
        by = item.kind == "time" and k > lo and items[k - 1].text in word_list("polarity_by")
        if late or by or (item.kind == "num" and _in_time(items, k)):
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
    """ "in two minutes", "two minutes out": what is said of a number is still to come."""
    item = items[k]
    before = items[k - 1].text if k else ""
    if item.unit is None and before in word_list("polarity_within") and item.form == "int":
        return k > 1 and item.number <= 60 and (k + 1 == len(items) or items[k + 1].kind == "sep")  # "coming out in 5"
    if item.unit not in ("min", "s", "hr"):
        return False
    after = items[k + 1].text if k + 1 < len(items) else ""
    soon = word_list("polarity_within") | word_list("polarity_gives") | word_list("polarity_about")
    return before in soon or after in word_list("polarity_away")
