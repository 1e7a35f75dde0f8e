"""The stop signs against published guidance: what it asks about is asked, and an answer missing is never a no.

Facts in our own words. PAGE: seen in a public page; MEM: from memory.
"""

from __future__ import annotations

import pytest

from fittings.domain.fitting.referral import Reported, referral_at_fitting
from fittings.domain.fitting.stop_signs import STANDARD_SIGNS

# Sign, where its guidance was read, and whether it should be seen the same day.
PUBLISHED = [
    # Ottawa ankle and foot rules: bone tenderness, or not four steps (PAGE); to be seen the same day (MEM).
    ("bone_pain", "Ottawa", False),
    ("four_steps", "Ottawa", True),
    # Wells: a swollen leg, surgery or bed rest lately (PAGE); the same day (MEM).
    ("calf", "Wells", True),
    ("surgery", "Wells", False),
    # BSR 2006: a hot swollen joint is an infection until proven otherwise, even without fever (PAGE).
    ("hot_joint", "Rheumatology", True),
    # IWGDF 2023: lost protective sensation by itself is a risk (PAGE); any open sore is seen at once (MEM).
    ("diabetes", "Diabetic Foot", False),
    ("open_skin", "Diabetic Foot", True),
]


@pytest.mark.parametrize(("code", "source", "same_day"), PUBLISHED)
def test_sign_of_published_guidance_is_asked_and_sends_to_a_clinician(code, source, same_day):
    sign = next(sign for sign in STANDARD_SIGNS if sign.code == code)
    assert source in sign.source
    advice = referral_at_fitting(Reported(stop_signs=(code,))).advice
    assert ("This should be seen today" in advice[0]) is same_day


# DEF: two steps only → stop; four steps with the navicular tender → stop; ankle pain with neither → no such sign.
@pytest.mark.parametrize(("signs", "refers"), [(("four_steps",), True), (("bone_pain",), True), ((), False)])
def test_ottawa_vectors(signs, refers):
    assert referral_at_fitting(Reported(stop_signs=signs, pain_now=3)).refer is refers
