"""Numbers as people read them."""

from __future__ import annotations

import math

import pytest

from core.domain.figures import figure


@pytest.mark.parametrize(
    ("value", "written"),
    [
        (0, "0"),
        (-0.0, "0"),
        (-1000, "−1000"),
        (-12345.678, "−12\u202f345.7"),
        (1e6, "1\u202f000\u202f000"),
        (12_345_678.9, "12\u202f345\u202f700"),
        (0.00001234, "0.00001234"),
        (-1e-9, "−1e−09"),
        (1e15, "1e+15"),
        (math.nan, "nan"),
        (-math.inf, "−inf"),
    ],
)
def test_number_has_its_digits_and_a_real_minus_sign(value, written):
    assert figure(value) == written


@pytest.mark.parametrize(
    ("value", "written"), [(2, "+2"), (0.12345, "+0.123"), (0, "0"), (-2.5, "−2.5"), (1e-6, "+0.000001")]
)
def test_difference_has_its_sign(value, written):
    assert figure(value, 3, plus=True) == written
