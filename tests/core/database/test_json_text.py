"""JSON texts put together are the very text that the whole would have."""

from __future__ import annotations

import json

import pytest
from hypothesis import given
from hypothesis import strategies as st

from core.database.json_text import JsonText, canonical, canonical_of_finite, list_text, object_text

PLAIN = st.recursive(
    st.none() | st.booleans() | st.integers() | st.floats(allow_nan=False, allow_infinity=False) | st.text(),
    lambda inner: st.lists(inner, max_size=3) | st.dictionaries(st.text(), inner, max_size=3),
    max_leaves=8,
)


@given(st.dictionaries(st.text(), st.tuples(PLAIN, st.booleans()), max_size=8))
def test_an_object_of_values_and_texts_is_the_canonical_text(parts):
    whole = {key: value for key, (value, _) in parts.items()}
    mixed = {key: JsonText.of(value) if is_text else value for key, (value, is_text) in parts.items()}
    assert object_text(mixed) == canonical(whole)


@given(st.lists(PLAIN, max_size=4))
def test_a_list_of_texts_is_the_canonical_text(items):
    assert list_text(map(canonical, items)) == canonical(items)


@pytest.mark.parametrize(
    "content",
    [
        1e-05,
        -1.5e-7,
        [1e-05],
        {"u": 1e16},
        5e-324,
        1.7976931348623157e308,
        2**70,
        {2: 1},
        "1e-5",
        ["rig 1e-5,"],
        "\x1f\n",
    ],
)
def test_both_encoders_write_the_same_text(content):
    assert canonical_of_finite(content) == canonical(content)


@given(st.floats(1e-7, 1e-3) | st.floats(1e14, 1e18) | st.sampled_from((1e-06, 1e-05, 0.0001, 0.00012, 1e15, 1e16)))
def test_numbers_where_an_exponent_begins_are_written_the_same(number):
    assert canonical_of_finite({"u": [number, -number]}) == canonical({"u": [number, -number]})


def test_a_text_that_looks_like_json_stays_a_text_unless_it_is_declared():
    assert json.loads(object_text({"a": "[1]", "b": JsonText.of([1])})) == {"a": "[1]", "b": [1]}


def test_what_json_cannot_hold_is_refused():
    with pytest.raises(ValueError, match="not JSON compliant"):
        canonical(float("nan"))
