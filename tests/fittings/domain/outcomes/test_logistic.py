"""Logistic model: what it refuses to say, and its laws (published values are in tests/external)."""

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from fittings.domain.outcomes.logistic import logistic_model


def made_up(seed=1, n=600):
    draw = np.random.default_rng(seed)
    design = np.column_stack([draw.normal(75, 12, n), draw.integers(0, 4, n)])
    chance = 1 / (1 + np.exp(-(-3 + 0.03 * design[:, 0] + 0.2 * design[:, 1])))
    return design, draw.random(n) < chance


def test_odds_ratio_of_a_table_of_two_by_two():
    x = np.repeat([1.0, 1.0, 0.0, 0.0], [30, 20, 20, 40])
    y = np.repeat([True, False, True, False], [30, 20, 20, 40])
    found = logistic_model(x[:, None], y, ["x"])
    constant, term = found.coefficients
    assert term.odds_ratio == pytest.approx(30 * 40 / (20 * 20))
    assert term.standard_error == pytest.approx(np.sqrt(1 / 30 + 1 / 20 + 1 / 20 + 1 / 40))
    assert constant.value == pytest.approx(np.log(20 / 40))
    assert (found.n, found.events, found.note) == (110, 50, "")
    assert term.low < term.odds_ratio < term.high


@given(st.floats(0.1, 50), st.floats(-100, 100))
def test_another_unit_of_a_term_divides_its_coefficient(scale, shift):
    design, y = made_up()
    other = design.copy()
    other[:, 0] = design[:, 0] * scale + shift
    one, two = logistic_model(design, y, ["a", "b"]), logistic_model(other, y, ["a", "b"])
    assert two.coefficients[1].value * scale == pytest.approx(one.coefficients[1].value, rel=1e-6)
    assert two.coefficients[2].value == pytest.approx(one.coefficients[2].value, rel=1e-6)
    assert two.log_likelihood == pytest.approx(one.log_likelihood)


def test_opposite_outcome_turns_the_signs():
    design, y = made_up()
    one, two = logistic_model(design, y, ["a", "b"]), logistic_model(design, ~y, ["a", "b"])
    assert [item.value for item in two.coefficients] == pytest.approx([-item.value for item in one.coefficients])


def test_fewer_than_ten_events_a_coefficient_say_so():
    design, _ = made_up(n=200)
    y = np.arange(200) < 19
    found = logistic_model(design, y, ["a", "b"])
    assert found.coefficients == ()
    assert found.log_likelihood is None
    assert found.note == "too few to say: 19 of the rarer outcome, 20 are needed for 2 coefficients"
    assert "10 of the rarer" in logistic_model(design, np.arange(200) < 190, ["a", "b"]).note
    assert logistic_model(design, np.arange(200) % 10 == 0, ["a", "b"]).note == ""


@pytest.mark.parametrize("gap", [0.0, 1.0])
def test_terms_that_separate_are_told_and_not_numbered(gap):
    x = np.linspace(0, 1, 60)
    y = x > 0.5
    found = logistic_model((x + gap * y)[:, None], y, ["x"])
    assert found.coefficients == ()
    assert "separate" in found.note


def test_group_without_the_outcome_separates_too():
    x = np.repeat([0.0, 1.0], 40)
    y = np.concatenate([np.zeros(40, dtype=bool), np.arange(40) < 20])
    assert "separate" in logistic_model(x[:, None], y, ["x"]).note


def test_terms_that_say_nothing_of_their_own_are_named():
    design, y = made_up()
    flat = np.column_stack([design, np.ones(len(y))])
    assert logistic_model(flat, y, ["a", "b", "c"]).note == "not estimable: c is the same for everybody"
    twice = np.column_stack([design, 2 * design[:, 0] + 3])
    assert "one follows from the others" in logistic_model(twice, y, ["a", "b", "c"]).note


@pytest.mark.parametrize(
    ("design", "outcome", "names", "confidence", "words"),
    [
        ([[1.0], [2.0]], [True], ["x"], 0.95, "a row a person"),
        ([[1.0]], [True], [], 0.95, "a row a person"),
        ([1.0, 2.0], [True, False], ["x"], 0.95, "a row a person"),
        ([[np.nan]], [True], ["x"], 0.95, "finite"),
        ([[1.0]], [True], ["x"], 1.0, "confidence must be between 0 and 1"),
    ],
)
def test_malformed_input_is_named(design, outcome, names, confidence, words):
    with pytest.raises(ValueError, match=words):
        logistic_model(design, outcome, names, confidence=confidence)
