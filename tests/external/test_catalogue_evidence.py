"""The trials that the page on the method reports, held against what they printed and against themselves.

Ratios and intervals: each as printed by its source (PAGE: read in the abstract). What follows from them, ln ratio,
standard error, z, p and the middle of the interval: DERIVED from the printed interval, tolerance 1e-3.
"""

from __future__ import annotations

import math

import pytest

from catalogue.domain.published_trials import EVIDENCE

# source, people: ratio, low, high, ln ratio, standard error, z, p, √(low · high)
PRINTED = [
    ("Malisoux", "372 runners", 0.55, 0.36, 0.85, -0.5978, 0.2192, -2.728, 0.0064, 0.553),
    ("Malisoux", "94 of them", 0.34, 0.13, 0.84, -1.0788, 0.4760, -2.266, 0.0234, 0.330),
    ("Malisoux", "218 of them", 0.78, 0.44, 1.37, -0.2485, 0.2897, -0.858, 0.3912, 0.776),
    ("Malisoux", "60 of them", 0.59, 0.20, 1.73, -0.5276, 0.5504, -0.959, 0.3377, 0.588),
    ("Willems", "the same trial", 0.41, 0.17, 0.98, -0.8916, 0.4469, -1.995, 0.0460, 0.408),
    ("Malisoux", "848 runners", 1.52, 1.07, 2.16, 0.4187, 0.1792, 2.337, 0.0195, 1.520),
    ("Knapik", "men", 0.97, 0.88, 1.06, -0.0305, 0.0475, -0.642, 0.5212, 0.966),
    ("Knapik", "women", 0.97, 0.85, 1.08, -0.0305, 0.0611, -0.499, 0.6181, 0.958),
]


def line_of(source, people):
    (found,) = [line for line in EVIDENCE if line.source.startswith(source) and line.people.startswith(people)]
    return found


@pytest.mark.parametrize("row", PRINTED, ids=lambda row: f"{row[0]} {row[1]}")
def test_line_says_what_was_printed_and_agrees_with_itself(row):
    source, people, ratio, low, high, log, error, z, p, middle = row
    line = line_of(source, people)
    assert (line.ratio, line.low, line.high) == (ratio, low, high)
    found_error = (math.log(line.high) - math.log(line.low)) / (2 * 1.959964)
    assert math.log(line.ratio) == pytest.approx(log, abs=1e-3)
    assert found_error == pytest.approx(error, abs=1e-3)
    assert math.log(line.ratio) / found_error == pytest.approx(z, abs=5e-3)
    assert math.erfc(abs(math.log(line.ratio) / found_error) / math.sqrt(2)) == pytest.approx(p, abs=2e-3)
    assert math.sqrt(line.low * line.high) == pytest.approx(middle, abs=1e-3)


def test_theisen_is_reported_as_printed():
    # PAGE: Theisen and others 2014, hazard ratio 0.92 (0.57 to 1.48).
    line = line_of("Theisen", "247 runners")
    assert (line.ratio, line.low, line.high) == (0.92, 0.57, 1.48)


def test_what_is_said_follows_the_interval():
    for line in EVIDENCE:
        if line.ratio is None:
            assert not line.is_conclusive
        elif not line.is_conclusive:
            assert line.said == "No difference was shown."
        else:
            assert line.said.startswith("Fewer" if line.ratio < 1 else "More")


def test_gain_of_pronated_feet_over_neutral_ones_is_not_claimed():
    # DERIVED: ratio of the two hazard ratios of Malisoux 2016, 0.4359 (0.1462 to 1.2993), p 0.136.
    pronated, neutral = line_of("Malisoux", "94 of them"), line_of("Malisoux", "218 of them")
    errors = [math.log(line.high / line.low) / (2 * 1.959964) for line in (pronated, neutral)]
    ratio, error = math.log(pronated.ratio / neutral.ratio), math.hypot(*errors)
    assert math.exp(ratio) == pytest.approx(0.4359, abs=1e-3)
    assert math.exp(ratio - 1.959964 * error) == pytest.approx(0.1462, abs=1e-3)
    assert math.exp(ratio + 1.959964 * error) == pytest.approx(1.2993, abs=2e-3)
    assert "was not shown" in pronated.said


def test_trials_disagree_and_the_lines_show_it():
    conclusive = {line.is_conclusive for line in EVIDENCE if line.ratio is not None}
    assert conclusive == {True, False}
