"""The corpus itself: every line decodes into the command types, and no sentence stands twice in one context."""

from collections import Counter

from tests.grammar.corpus.loader import cases, contexts


def test_every_line_of_the_corpus_decodes() -> None:
    assert sum(1 for _ in cases()) > 0


def test_no_sentence_is_written_twice() -> None:
    counts = Counter((case.expected.say, case.expected.in_) for case in cases())
    assert [said for said, count in counts.items() if count > 1] == []


def test_every_context_is_used() -> None:
    assert set(contexts()) - {case.expected.in_ for case in cases()} == set()
