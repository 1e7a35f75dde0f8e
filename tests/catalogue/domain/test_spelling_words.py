from __future__ import annotations

import pytest
from hypothesis import given
from hypothesis import strategies as st

from catalogue.domain.spelling import folded, pairs, vocabulary

KNOWN = vocabulary(["Lantern", "Corvane", "Reed", "Sedge", "Alder", "Häll", "2"])


@pytest.mark.parametrize(
    ("written", "meant"),
    [
        ("lantren", "lantern"), ("corvan", "corvane"), ("corvnae", "corvane"), ("raed", "reed"), ("HALL", "häll"),
        ("zzzz", None), ("", None), ("x", None),
    ],
)  # fmt: skip
def test_word_written_most_alike_is_meant(written, meant):
    assert KNOWN.nearest(written) == meant


def test_hand_worked_likeness_decides_at_one_half():
    # " a", "ab", "b " and " a", "ac", "c ": one pair of three is shared, 2 · 1 / 6 < 0.5; with "abc" two of 3 + 4.
    assert vocabulary(["ac"]).nearest("ab") is None
    assert vocabulary(["abc"]).nearest("ab") == "abc"


def test_beginning_of_a_known_word_is_known():
    assert [KNOWN.knows(text) for text in ("lan", "LANTERN", "hall", "tern", "lantern2")] == [True] * 3 + [False] * 2


@given(st.lists(st.text(min_size=1, max_size=12), max_size=20))
def test_known_word_is_nearest_to_itself(words):
    found = vocabulary(words)
    for word in found.words:
        nearest = found.nearest(word)
        assert nearest is not None
        assert pairs(nearest) == pairs(word)


@given(st.text(max_size=30))
def test_any_text_is_answered(text):
    assert KNOWN.nearest(text) in (*KNOWN.words, None)
    assert all(letter.isalnum() for letter in folded(text))
