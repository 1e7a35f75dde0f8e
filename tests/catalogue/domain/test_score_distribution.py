"""The curve of where a true score may be, and how probable each band is."""

from __future__ import annotations

import itertools

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st
from scipy import stats

from catalogue.domain.score_distribution import Spread, density, probability


@pytest.mark.parametrize("df", [None, 1.0, 3.0, 12.0, 400.0])
def test_curve_is_that_of_students_t(df):
    spread, scores = Spread(61.3, 1.7, df), np.linspace(40, 80, 41)
    known = stats.norm(61.3, 1.7) if df is None else stats.t(df, 61.3, 1.7)
    assert density(spread, scores) == pytest.approx(known.pdf(scores), rel=1e-10)
    assert probability(spread, 60.0, 70.0) == pytest.approx(known.cdf(70) - known.cdf(60), rel=1e-10)


@given(
    value=st.floats(0, 100),
    u=st.floats(0.05, 20),
    df=st.none() | st.floats(1, 1e4),
    limits=st.lists(st.floats(0, 100), max_size=5, unique=True),
)
def test_bands_share_all_of_the_probability(value, u, df, limits):
    ends = [None, *sorted(limits), None]
    shares = [probability(Spread(value, u, df), low, high) for low, high in itertools.pairwise(ends)]
    assert sum(shares) == pytest.approx(1.0)
    assert all(share >= -1e-12 for share in shares)


@pytest.mark.parametrize(("u", "df"), [(0.0, None), (-1.0, None), (float("nan"), None), (1.0, 0.5)])
def test_no_uncertainty_has_no_curve(u, df):
    with pytest.raises(ValueError, match="must be"):
        Spread(60.0, u, df)
