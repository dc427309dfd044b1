"""Where a message asks: in which clauses, and whether a clause that calls somebody first goes on as a question.

"Chief is on scene" tells of the chief; "chief is the fire under control" calls the chief and asks.
"""

from __future__ import annotations

from collections.abc import Iterator

from grammar.items import Item
from grammar.lexicon import by_language
from grammar.vocabulary import word_list

_STOPS = frozenset(",.;:!?\n")


def clauses(items: list[Item]) -> Iterator[tuple[int, int]]:
    """The stretches between pauses."""
    lo = 0
    for k, item in enumerate(items):
        if item.kind == "sep" and item.value in _STOPS:
            if k > lo:
                yield lo, k
            lo = k + 1
    if lo < len(items):
        yield lo, len(items)


def asked(items: list[Item]) -> set[int]:
    """Positions of items inside a question."""
    inside: set[int] = set()
    parts = list(clauses(items))
    for c, (lo, hi) in enumerate(parts):
        for k in range(lo + 1, hi - 1):  # "knocked down and are we under control"
            if "and" in items[k].concepts and asks_first(items, k + 1, hi):
                inside.update(range(k + 1, hi))
        marked = hi < len(items) and items[hi].value == "?"
        if asks_first(items, lo, hi) or _asks_last(items, lo, hi):
            inside.update(range(lo, _asked_until(items, lo, hi)))
        elif marked:
            inside.update(range(lo, hi))
        if c and items[lo - 1].value == "," and ((marked and _idle(items, lo, hi)) or _tag(_words(items, lo, hi))):
            inside.update(range(*parts[c - 1]))
    return inside


def _words(items: list[Item], lo: int, hi: int) -> list[str]:
    return [word for item in items[lo:hi] if item.kind != "sep" for word in item.text.split()]


def _idle(items: list[Item], lo: int, hi: int) -> bool:
    return all(item.text in word_list("polarity_tags") or item.free for item in items[lo:hi])


# ------------------------------------------------------------------------------------------------- at the clause's end

_TAGS = (("or", "what"), ("or", "not"), ("or", "no"), ("or", "yes"))


def _asks_last(items: list[Item], lo: int, hi: int) -> bool:
    """ "primary is done right", "under control huh", "primary is done or not", "the fire is out isn't it"."""
    words = _words(items, lo, hi)
    if len(words) <= 2:
        return False
    if words[-1] in ("right", "huh", "eh") and words[-2] not in ("the", "to", "going"):
        return True
    return tuple(words[-2:]) in _TAGS or (len(words) > 3 and _tag(words[-3:]) and "not" in words[-3:])


def _tag(words: list[str]) -> bool:
    """ "is it", "isn't it", "don't we": nothing but that."""
    bare = [word for word in words if word != "not"]
    return len(bare) == 2 and bare[0] in word_list("polarity_aux") and bare[1] in word_list("polarity_persons")


# ------------------------------------------------------------------------------------------- at the clause's beginning


def _asked_until(items: list[Item], lo: int, hi: int) -> int:
    """Where a question ends: "who is inside and engine 9 is out" tells something after its "and"."""
    for k in range(lo + 1, hi - 1):
        said = {concept for item in items[lo:k] for concept in item.concepts}
        whole = any(c in word_list("polarity_whole_questions") or c.startswith("ask_") for c in said)
        if whole and "and" in items[k].concepts and new_subject(items, k + 1, hi):
            return k
    return hi


def new_subject(items: list[Item], k: int, hi: int) -> bool:
    """Somebody or something else is spoken of from here on."""
    while k < hi and items[k].free and items[k].text in ("the", "we", "our", "i", "i am", "im"):
        k += 1
    return k < hi and (items[k].kind == "unit" or not items[k].free)


def asks_first(items: list[Item], lo: int, hi: int) -> bool:
    """The clause begins as a question does ("is the …", "have we …", "how …"), whoever is called first."""
    k, called = _address(items, lo, hi)
    words = _words(items, k, hi)
    if not words:
        return False
    if words[0] in word_list("polarity_asking") or " ".join(words[:2]) in word_list("polarity_asking_two"):
        return True
    if words[0] not in word_list("polarity_aux") or items[k].form == "short":
        return False
    first, rest = words[0], [word for word in words[1:3] if word != "not"]
    second = rest[0] if rest else ""
    if first in ("can", "could", "will", "would") and second == "you":
        return False
    if first == "do" and "not" in words[1:2] and second not in word_list("polarity_persons"):
        return False  # "do not charge it"
    if first in ("have", "has", "had"):
        if second != "been" and "been" in words[2:]:
            return True  # "has crosslay one been charged"
        if second == "it" and (called or (first != "has" and "been" not in words)):
            return False  # "interior has it knocked down", "had it under control ten minutes ago"
        return second in word_list("polarity_persons") or (
            _names_subject(second)
            and (
                bool({*words[2:]} & word_list("polarity_happened"))
                or (first == "has" and not called and _any_state(items, k, hi))
            )
        )
    if second in word_list("polarity_persons"):
        return len(words) > 2 or not called
    if called:
        return _subject_and_more(items, _after_aux(items, k), hi)
    return (
        second in word_list("polarity_subjects")
        or (k + 1 < hi and items[k + 1].kind == "unit")
        or first in ("is", "are", "was", "did", "does")
    )


def _any_state(items: list[Item], lo: int, hi: int) -> bool:
    states = word_list("polarity_states") | _whole()
    return any(not item.concepts.isdisjoint(states) for item in items[lo:hi])


def _names_subject(word: str) -> bool:
    return word in word_list("polarity_subjects") or word in word_list("polarity_determiners")


def _address(items: list[Item], lo: int, hi: int) -> tuple[int, bool]:
    """Past who is called and what says nothing: (where the clause goes on, whether it is said to or of somebody).

    "We", "it" and the like are no address: what follows them is said of them.
    """
    k, called = lo, False
    while k < hi:
        texts = [item.text for item in items[k : k + 3]]
        if texts[0] == "this is" and k + 1 < hi and items[k + 1].kind == "unit":
            k, called = k + 2, True
        elif texts == ["it", "is", "me"] or (
            texts[:2] == ["this", "is"] and hi > k + 2 and items[k + 2].kind == "unit"
        ):
            k, called = k + 3, True
        elif calls(items[k]) or (k == lo and _a_name(items, k, hi)) or _names_command(items, k, hi):
            k, called = k + 1, True
        elif items[k].free and not _begins(texts[0]):
            k, called = k + 1, called or texts[0] not in word_list("polarity_hails")
        else:
            break
    return k, called


def _begins(text: str) -> bool:
    """A clause's own beginning, that is no address."""
    return text.split()[0] in _beginnings()


@by_language
def _beginnings() -> frozenset[str]:
    kinds = ("aux", "asking", "persons", "determiners")
    return frozenset().union(*(word_list(f"polarity_{kind}") for kind in kinds))


def calls(item: Item) -> bool:
    """It may be somebody who is called."""
    if item.kind in ("unit", "person"):
        return True
    return not item.concepts.isdisjoint(word_list("polarity_called_as")) or item.text in word_list("polarity_called")


def _a_name(items: list[Item], k: int, hi: int) -> bool:
    """ "Smitty is the roof open": an unknown word right before an auxiliary."""
    return (
        items[k].kind == "word" and not items[k].free and k + 1 < hi and items[k + 1].text in word_list("polarity_aux")
    )


def _names_command(items: list[Item], k: int, hi: int) -> bool:
    """ "Juniper command": an unknown word right before it is its name."""
    return items[k].kind == "word" and not items[k].free and k + 1 < hi and items[k + 1].text in _COMMAND


_COMMAND = ("command", "ic", "incident command")


def _after_aux(items: list[Item], k: int) -> int:
    return k + 2 if k + 1 < len(items) and items[k + 1].text == "not" else k + 1


def _subject_and_more(items: list[Item], k: int, hi: int) -> bool:
    """A subject stands here, and something is said of it: "… the fire under control", "… engine 9 inside"."""
    while k < hi and items[k].text in word_list("polarity_determiners"):
        k += 1
    if k >= hi or items[k].kind == "num":
        return False  # "tender 3 is two minutes out"
    first, determined = items[k], items[k - 1].text in word_list("polarity_determiners")
    words = first.text.split()
    if words[0] in word_list("polarity_determiners"):
        words, determined = words[1:], True
    if len(words) > 1 and words[0] in word_list("polarity_subjects") and not first.concepts.isdisjoint(_whole()):
        return True  # "fire under control" is the whole of it
    more = [item for item in items[k + 1 : hi] if item.kind != "sep" and not _idle_word(item)]
    if not more:
        return False
    if first.kind == "unit" or determined:
        return True
    return words[0] in word_list("polarity_subjects") and any(
        not item.concepts.isdisjoint(word_list("polarity_states")) or not item.concepts.isdisjoint(_whole())
        for item in more
    )


def _idle_word(item: Item) -> bool:
    return item.text in ("yet", "now", "please", "still", "already", "today")


def _whole() -> frozenset[str]:
    return word_list("polarity_whole")


# -------------------------------------------------------------------------------------------------- who is only called


def lay_aside_address(items: list[Item]) -> None:
    """Who is only called says nothing: "operations, the roof is open", "engine 12 is the fire under control".

    A unit stays where it may be who reports or who is asked about itself.
    """
    parts = list(clauses(items))
    if not parts:
        return
    lo, hi = parts[0]
    k, called = _address(items, lo, hi)
    if k >= hi:  # the clause calls somebody and says nothing else
        after = items[parts[1][0] : parts[1][1]] if len(parts) > 1 else []
        another = len(after) > 2 and after[0].kind == "unit" and after[1].text in word_list("polarity_aux")
        for item in items[lo:hi] if len(parts) > 1 else ():
            calls = item.text == "this is" or (item.text in word_list("polarity_called") and item.kind != "place")
            if calls or (item.kind == "unit" and another):
                _idle_now(item)
    elif called and asks_first(items, lo, hi) and items[k].text in word_list("polarity_aux"):
        itself = {"you", "your"} & {*_words(items, k, hi)}
        for item in items[lo:k]:
            if item.kind != "unit" or not itself:
                _idle_now(item)


def _idle_now(item: Item) -> None:
    item.kind, item.free, item.concepts = "word", True, frozenset()
