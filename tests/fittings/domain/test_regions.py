"""Regions and sides are read forgivingly and written in one way."""

import pytest
from hypothesis import given
from hypothesis import strategies as st

from fittings.domain.regions import REGIONS, SIDES, place_words, read_region, read_side


@pytest.mark.parametrize(
    ("written", "code"),
    [
        ("heel", "heel"),
        ("Inner shin", "inner_shin"),
        ("inner-shin", "inner_shin"),
        (" FRONT  of-knee ", "front_of_knee"),
        ("front of the knee", "front_of_knee"),
        ("hip/groin", "hip_groin"),
        ("Lower leg", "lower_leg"),
    ],
)
def test_region_is_read_whatever_the_spacing(written, code):
    assert read_region(written) == code


@given(st.sampled_from(sorted(REGIONS)), st.sampled_from(["_", " ", "-", "  ", "/"]), st.booleans())
def test_every_code_reads_back_to_itself(code, gap, capitals):
    written = code.replace("_", gap)
    assert read_region(written.upper() if capitals else written) == code


@given(st.sampled_from(sorted(REGIONS)))
def test_the_words_shown_read_back_to_their_code(code):
    if code != "unspecified":
        assert read_region(REGIONS[code]) == code


def test_an_unknown_region_is_refused_with_the_list():
    with pytest.raises(ValueError, match=r"region must be one of heel, .*, got “tail”"):
        read_region("tail")
    with pytest.raises(TypeError, match="region must be a text"):
        read_region(3)


def test_side_may_be_missing_but_not_made_up():
    assert read_side(None) is None
    assert read_side("  ") is None
    assert read_side("BOTH") == "both"
    with pytest.raises(ValueError, match="side must be left, right, both or null, got “up”"):
        read_side("up")
    with pytest.raises(TypeError, match="side must be left"):
        read_side(1)


def test_place_is_said_with_its_side_where_known():
    assert place_words("heel", None) == "heel"
    assert [place_words("knee", side) for side in SIDES] == ["knee, left", "knee, right", "knee, both sides"]
