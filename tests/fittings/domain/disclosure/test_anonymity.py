"""At least k people alike, however rare somebody is."""

from collections import Counter

import pytest
from hypothesis import given
from hypothesis import strategies as st

from fittings.domain.disclosure.anonymity import banded, k_anonymous

people = st.lists(
    st.fixed_dictionaries(
        {"store": st.sampled_from("abc"), "use": st.sampled_from("rw"), "mass": st.sampled_from("xyz")}
    ),
    max_size=60,
)


@given(people, st.integers(1, 7))
def test_every_combination_left_is_of_k_people(rows, k):
    found = k_anonymous(rows, ["store", "mass"], k)
    left = [tuple(sorted(row.items())) for row in found.rows if row is not None]
    assert all(count >= k for count in Counter(left).values())
    assert found.suppressed == len(rows) - len(left)
    for before, after in zip(rows, found.rows, strict=True):
        assert after is None or all(after[name] in ("", before[name]) for name in before)
        assert after is None or after["use"] == before["use"]


def test_common_people_keep_everything_and_rare_ones_lose_the_least_needed_first():
    common, rare = {"store": "a", "mass": "x"}, {"store": "b", "mass": "x"}
    found = k_anonymous([common] * 5 + [rare] * 2 + [{"store": "c", "mass": "x"}] * 3, ["store", "mass"], 5)
    assert found.rows[0] == common
    assert found.rows[5] == {"store": "", "mass": "x"}
    assert (found.suppressed, dict(found.blanked)) == (0, {"store": 5, "mass": 0})


def test_alone_is_left_out_and_nobody_is_nobody():
    assert k_anonymous([{"use": "r"}], ["use"], 5).rows == (None,)
    assert k_anonymous([], ["use"], 5).rows == ()
    with pytest.raises(ValueError, match="k must be"):
        k_anonymous([], [], 0)
    with pytest.raises(ValueError, match="same columns"):
        k_anonymous([{"a": "1"}, {"b": "1"}], [], 2)


@pytest.mark.parametrize(
    ("value", "band"), [(None, ""), (0, "0 to under 10"), (10.0, "10 to under 20"), (9.99, "0 to under 10")]
)
def test_bands(value, band):
    assert banded(value, 10) == band


def test_bands_of_nothing_sensible_are_refused():
    with pytest.raises(ValueError, match="value must be"):
        banded(-1, 10)
