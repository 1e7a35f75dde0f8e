"""How large letters are to be read from a distance, and labels that do not overlap."""

from __future__ import annotations

import itertools

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from catalogue.domain.label_places import spread
from tests.reference.legibility import letter_height_mm


def test_height_grows_with_the_distance_and_the_angle():
    # tan of a small angle: 3 m at 22 minutes of arc.
    assert letter_height_mm(3.0, 22.0) == pytest.approx(3000 * np.tan(np.radians(22 / 60)), rel=1e-4)
    assert letter_height_mm(8.0) == pytest.approx(2 * letter_height_mm(4.0))


@pytest.mark.parametrize(("distance", "angle"), [(0.0, 20.0), (-1.0, 20.0), (4.0, 0.0), (float("nan"), 20.0)])
def test_no_distance_and_no_angle_are_refused(distance, angle):
    with pytest.raises(ValueError, match="must be > 0"):
        letter_height_mm(distance, angle)


def test_labels_move_no_further_than_they_must():
    assert spread([], gap=4.0, low=0.0, high=60.0) == []
    assert spread([30.0], gap=4.0, low=0.0, high=60.0) == [30.0]
    assert spread([1.0, 1.0], gap=4.0, low=0.0, high=60.0) == [0.0, 4.0]
    assert spread([59.0, 59.0, 59.0], gap=4.0, low=0.0, high=60.0) == [52.0, 56.0, 60.0]
    assert spread([20.0, 21.0, 22.0, 50.0], gap=4.0, low=0.0, high=60.0) == [17.0, 21.0, 25.0, 50.0]


def test_too_many_labels_share_the_room():
    assert spread([5.0] * 7, gap=4.0, low=0.0, high=12.0) == pytest.approx([0, 2, 4, 6, 8, 10, 12])
    with pytest.raises(ValueError, match="gap must be > 0"):
        spread([1.0], gap=0.0, low=0.0, high=1.0)


@given(homes=st.lists(st.floats(0, 400), max_size=40), gap=st.floats(0.5, 12))
def test_labels_are_apart_inside_and_in_order(homes, gap):
    homes = sorted(homes)
    places = spread(homes, gap=gap, low=0.0, high=400.0)
    least = min(gap, 400.0 / max(1, len(homes) - 1))
    assert all(second - first >= least - 1e-9 for first, second in itertools.pairwise(places))
    assert all(-1e-9 <= place <= 400.0 + 1e-9 for place in places)
