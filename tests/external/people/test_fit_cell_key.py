"""Noise by cell keys against the worked example of a public handbook.

Handbook on Statistical Disclosure Control, section 5.4, tables 5.16 and 5.17,
sdctools.github.io/HandbookSDC/05-frequency-tables.html (PAGE).
"""

import pytest

from fittings.domain.disclosure.cell_keys import NoiseTable, noisy_count

HANDBOOK = NoiseTable(
    noise=((0,), (-1, 1), (0, 1), (-1, 0, 1)), upper=((1.0,), (0.5, 1.0), (0.8, 1.0), (0.3, 0.7, 1.0))
)


def test_three_respondents_are_shown_as_four():
    key = (0.9 + 0.3 + 0.6) % 1
    assert key == pytest.approx(0.8)
    assert noisy_count(3, key, HANDBOOK) == 4


@pytest.mark.parametrize(
    ("count", "key", "shown"),
    [(0, 0.4, 0), (1, 0.5, 0), (1, 0.51, 2), (2, 0.8, 2), (2, 0.81, 3), (3, 0.3, 2), (3, 0.7, 3), (9, 0.2, 8)],
)
def test_upper_bounds_belong_to_their_line_and_the_last_lines_serve_larger_counts(count, key, shown):
    assert noisy_count(count, key, HANDBOOK) == shown
