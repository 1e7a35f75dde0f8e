"""Stop signs send a person to a clinician first."""

import pytest
from hypothesis import given
from hypothesis import strategies as st

from fittings.domain.fitting.stop_signs import STANDARD_SIGNS, STOP_SIGNS, read_stop_signs, refer_words


def test_signs_are_read_once_each_in_the_order_of_the_list():
    given_signs = ["suspected stress fracture", "Night-pain", "night pain", "Open skin with diabetes or lost feeling"]
    assert read_stop_signs(given_signs) == ("night_pain", "open_skin", "stress_fracture")


@given(st.lists(st.sampled_from(sorted(STOP_SIGNS))))
def test_every_code_reads_back_to_itself(codes):
    assert set(read_stop_signs(codes)) == set(codes)


@pytest.mark.parametrize(("error", "item"), [(ValueError, "hunger"), (TypeError, 4), (TypeError, None)])
def test_anything_else_is_refused_by_name(error, item):
    with pytest.raises(error, match="stop_signs must be"):
        read_stop_signs(["swelling", item])


def test_referral_names_every_sign_and_no_sign_means_no_referral():
    words = refer_words(["swelling", "numbness"])
    assert words.startswith("See a clinician first.")
    assert "swelling; numbness or tingling" in words
    assert refer_words([]) == ""


def test_signs_of_the_list_name_where_they_come_from():
    assert len({sign.code for sign in STANDARD_SIGNS}) == len(STANDARD_SIGNS) == len(STOP_SIGNS)
    assert all(sign.source for sign in STANDARD_SIGNS)
    assert "today" not in refer_words(["swelling"])
    assert all(len(code) <= 30 for code in STOP_SIGNS)
