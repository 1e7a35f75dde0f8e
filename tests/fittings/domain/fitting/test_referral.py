"""Who is advised to see a clinician, by the referral rules."""

from dataclasses import replace

import pytest
from hypothesis import given
from hypothesis import strategies as st

from fittings.domain.fitting.clinician_wishes import WISHES, check_wishes, wish_words
from fittings.domain.fitting.referral import SEE_SOMEBODY, Reported, referral_after_answer, referral_at_fitting
from fittings.domain.fitting.referral_rules import (
    R1,
    own_signs_of,
    referral_from_data,
    referral_to_data,
)
from fittings.domain.fitting.stop_signs import read_stop_signs
from fittings.domain.regions import REGIONS, Complaint


@pytest.mark.parametrize(
    ("reported", "words"),
    [
        (Reported(pain_now=4), None),
        (Reported(pain_now=5), "given as 5 of 10"),
        (Reported(history=(Complaint("inner_shin", "left", now=True),)), "inner shin"),
        (Reported(history=(Complaint("front_of_knee", now=True),)), "front of the knee"),
        (Reported(history=(Complaint("heel", now=False),)), None),
        (Reported(history=(Complaint("thigh", now=True),)), None),
        (Reported(pain_now=2, pain_weeks=3), None),
        (Reported(pain_now=2, pain_weeks=4), "has hurt for 4 weeks"),
        (Reported(pain_weeks=4), "has hurt for 4 weeks"),
        (Reported(pain_now=0, pain_weeks=40), None),
        (Reported(stop_signs=("calf",)), "This should be seen today: one calf hot"),
    ],
)
def test_each_rule_refers_from_its_threshold_on(reported, words):
    advice = referral_at_fitting(reported).advice
    assert len(advice) == (words is not None)
    assert all(line.startswith("See a clinician first.") for line in advice)
    assert words is None or words in advice[0]


def test_thresholds_and_regions_are_those_of_the_version():
    strict = replace(R1, pain_now_from=2, pain_now_regions=("thigh",), pain_weeks_above=1)
    assert referral_at_fitting(Reported(pain_now=2), strict).refer
    assert referral_at_fitting(Reported(history=(Complaint("thigh", now=True),)), strict).refer
    assert not referral_at_fitting(Reported(history=(Complaint("heel", now=True),)), strict).refer
    assert "after 1 week we" in referral_at_fitting(Reported(pain_weeks=2), strict).advice[0]


def test_answer_is_judged_by_the_version():
    assert not referral_after_answer(worst_pain=4, recurred=False, days_off=6).refer
    assert referral_after_answer(worst_pain=5, recurred=False, days_off=None).advice[-1] == SEE_SOMEBODY
    assert referral_after_answer(worst_pain=None, recurred=True, days_off=None).refer
    mild = replace(R1, answer_on_recurrence=False, answer_pain_from=9, answer_days_off_from=30)
    assert not referral_after_answer(worst_pain=8, recurred=True, days_off=29, rules=mild).refer
    assert referral_after_answer(worst_pain=9, recurred=False, days_off=30, rules=mild).refer


def test_own_sign_is_asked_last_and_refers_in_its_words():
    rules = replace(R1, own_signs=own_signs_of(["Blisters that bleed", "  "]))
    assert list(rules.signs)[-1] == "own_blisters_that_bleed"
    assert read_stop_signs(["own blisters that bleed"], rules.signs) == ("own_blisters_that_bleed",)
    assert "Blisters that bleed" in referral_at_fitting(Reported(("own_blisters_that_bleed",)), rules).advice[0]


@pytest.mark.parametrize(
    ("lines", "words"),
    [
        (["same words", "Same  words"], "begin alike"),
        (["…"], "Latin letters"),
        (["x" * 121], "at most 120"),
        (["ring\x07"], "printable"),
        ([f"sign {n}" for n in range(21)], "at most 20"),
    ],
)
def test_own_signs_that_cannot_be_asked_are_refused(lines, words):
    with pytest.raises(ValueError, match=words):
        own_signs_of(lines)


@given(
    st.builds(
        replace,
        st.just(R1),
        pain_now_from=st.integers(1, 10),
        pain_now_regions=st.sets(st.sampled_from(list(REGIONS))).map(
            lambda chosen: tuple(region for region in REGIONS if region in chosen)
        ),
        answer_on_recurrence=st.booleans(),
        own_signs=st.sampled_from([(), own_signs_of(["a rash"])]),
    )
)
def test_rules_survive_being_stored(rules):
    assert referral_from_data(referral_to_data(rules)) == rules


@pytest.mark.parametrize(
    ("change", "words"),
    [
        ({"pain_now_from": 0}, "pain_now_from must be a whole number from 1 to 10"),
        ({"pain_now_from": True}, "pain_now_from must be a whole number"),
        ({"look_after_days": 31}, "look_after_days"),
        ({"answer_on_recurrence": 1}, "answer_on_recurrence must be true or false"),
        ({"pain_now_regions": ["tail"]}, "pain_now_regions must be of"),
        ({"pain_now_regions": "heel"}, "pain_now_regions must be a list"),
        ({"own_signs": [{"code": "own_other", "words": "a rash"}]}, "codes that follow"),
        ({"own_signs": ["a rash"]}, "own_signs must have code and words"),
        ({"own_signs": {}}, "own_signs must be a list"),
        ({"version": " "}, "version must be a text"),
        ({"more": 1}, "missing or unknown: more"),
    ],
)
def test_bad_rules_are_refused_by_name(change, words):
    with pytest.raises((TypeError, ValueError), match=words):
        referral_from_data(referral_to_data(R1) | change)


def test_wishes_of_a_clinician():
    assert check_wishes(["stiff_shoe", "insole", "insole"]) == ("insole", "stiff_shoe")
    assert wish_words(["none"]) == WISHES["none"]
    for bad, words in ((["magic"], "wishes must be of"), ([], "Tick what"), (["none", "insole"], "not both")):
        with pytest.raises(ValueError, match=words):
            check_wishes(bad)
