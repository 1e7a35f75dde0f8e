from __future__ import annotations

import math
import re

import pytest
from hypothesis import given
from hypothesis import strategies as st

from catalogue.domain.outline import COLLARS, GROUND, HEIGHT, PX_PER_MM, WIDTH, outline, traits

stacks = st.floats(0, 120) | st.just(math.nan)


def points(path):
    numbers = [float(number) for number in re.findall(r"-?[0-9.]+", path)]
    return [number for number in numbers if not -1e-9 <= number <= WIDTH]


@given(st.sampled_from(sorted(COLLARS)), stacks, stacks)
def test_every_shoe_stays_in_its_box(use, heel, forefoot):
    drawn = outline(use, heel, forefoot)
    assert points(drawn.sole + drawn.upper) == []
    assert "nan" not in drawn.sole + drawn.upper


@given(st.sampled_from(sorted(COLLARS)), stacks, stacks, st.floats(-50, 150))
def test_scores_stay_in_the_box_too(use, heel, forefoot, score):
    drawn = traits(use, heel, forefoot, midfoot=score, rearfoot=score, cushioning=score)
    assert points(drawn.counter + drawn.shank + drawn.foam) == []


def test_each_score_is_drawn_and_larger_for_more():
    low, high = (
        traits("running", 30.0, 22.0, midfoot=score, rearfoot=score, cushioning=score) for score in (25.0, 75.0)
    )
    lengths = [[int(path.rpartition("h")[2]) for path in (drawn.shank, drawn.foam)] for drawn in (low, high)]
    assert lengths == [[32, 36], [80, 90]]
    top_of = [int(re.findall(r"L11 (\d+)", drawn.counter)[0]) for drawn in (low, high)]
    assert top_of[1] < top_of[0] < 63, "up is less"


def test_sole_is_as_thick_as_its_stack():
    # 30 mm · 0.84 px = 25.2 px above the ground at 88: 62.8, drawn on the whole px.
    assert outline("running", 30.0, 22.0).sole.startswith("M10 63C")
    assert pytest.approx(62.8) == GROUND - PX_PER_MM * 30
    assert HEIGHT > GROUND


def test_stack_or_use_makes_another_outline():
    one = outline("running", 30.0, 22.0)
    assert one != outline("running", 34.0, 22.0)
    assert one != outline("walking", 30.0, 22.0)
    assert one == outline("running", math.nan, math.nan)
