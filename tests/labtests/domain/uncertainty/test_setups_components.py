"""Days and set-ups from check shoes and studies, pooled components, and the planner, by simulation and by hand."""

from __future__ import annotations

import math

import numpy as np
import pytest

from labtests.domain.scores.places import TestPlaces
from labtests.domain.scores.scoring import S1, Scores, score
from labtests.domain.uncertainty.components import NOTHING, component, homogeneity, sums_of_shoes
from labtests.domain.uncertainty.day_and_setup import StudyReadings, excess, excess_of_study
from labtests.domain.uncertainty.planner import KnownScatter, plan, planned_u
from labtests.domain.uncertainty.reading_squares import by_model, squares_of_products, squares_of_scores
from labtests.domain.uncertainty.scatter import Scatter

MIDFOOT = 100 / 9.038783


def test_excess_takes_away_what_repeats_explain():
    whole = np.array([[0.04, 0.01, 0.0], [0.01, 0.02, 0.0], [0.0, 0.0, 0.001]])
    found = excess(whole, 20.0, np.diag([0.01, 0.03, 0.0]), model=S1, origin="days", link="check:rig-2")
    assert (found.torque_nm2, found.deflection_mm2, found.torque_deflection) == (pytest.approx(0.03), 0.0, 0.0)
    assert (found.origin, found.link) == ("days", "check:rig-2")
    assert 1.0 <= found.df < 20.0
    assert excess(np.zeros((3, 3)), 20.0, np.diag([0.01, 0.03, 0.0]), model=S1, origin="days") is None


def test_study_gives_operators_and_set_ups_without_specimens():
    rng = np.random.default_rng(8)
    specimens, operators, trials = [f"s{n}" for n in range(12)], [f"o{n}" for n in range(9)], 3
    of_specimen = {name: rng.normal(0, 2.0, 3) for name in specimens}
    of_operator = {name: rng.normal(0, 0.05, 3) for name in operators}
    rows = [(s, o) for s in specimens for o in operators for _ in range(trials)]
    readings = np.array([of_specimen[s] + of_operator[o] + rng.normal(0, 0.1, 3) for s, o in rows])
    study = StudyReadings(tuple(s for s, _ in rows), tuple(o for _, o in rows), readings)
    found = excess_of_study(study, np.zeros((3, 3)), model=S1, link="gauge_study:4")
    assert math.sqrt(found.torque_nm2) == pytest.approx(math.hypot(0.05, 0.1), rel=0.2)
    assert abs(found.torque_deflection) < 0.005
    assert found.df > 8
    broken = StudyReadings(study.specimens[:-1], study.operators[:-1], readings[:-1])
    assert excess_of_study(broken, np.zeros((3, 3)), model=S1, link="") is None


def test_pooled_component_is_the_one_that_was_simulated():
    rng = np.random.default_rng(3)
    shoes, sd, repeats_u = 400, 0.08, 0.03
    shoe_of = np.repeat(np.arange(shoes), 2)
    torque = 5.0 + rng.normal(0, sd, 2 * shoes) + rng.normal(0, repeats_u, 2 * shoes)
    zeros, nothing = np.zeros(2 * shoes, dtype=np.int64), np.zeros(2 * shoes)
    places = TestPlaces(specimen=np.arange(2 * shoes), shoe_of=shoe_of, shoes=shoes, rig=zeros, day=zeros, rigs=1)
    repeats = squares_of_products(np.full(2 * shoes, repeats_u), nothing, nothing)
    tests, specimens = sums_of_shoes(np.column_stack([torque, nothing, nothing]), repeats, places, np.zeros((1, 4)))
    assert tests.df.sum() == 0
    found = component(NOTHING.changed(specimens, 1), by_model(S1)["midfoot"])
    assert (found.shoes, found.df) == (shoes, shoes)
    assert math.sqrt(found.variance) == pytest.approx(MIDFOOT * sd, rel=0.06)
    assert found.sd.low < MIDFOOT * sd < found.sd.high
    # Taking the shoes out again leaves nothing.
    assert component(NOTHING.changed(specimens, 1).changed(specimens, -1), by_model(S1)["midfoot"]) is None


def test_days_explain_specimens_tested_on_different_ones():
    zeros = np.zeros(2, dtype=np.int64)
    setups = np.array([[0.5, 0.0, 0.0, 0.0]])

    def explained(days):
        places = TestPlaces(specimen=np.arange(2), shoe_of=zeros, shoes=1, rig=zeros, day=np.array(days), rigs=1)
        return sums_of_shoes(np.zeros((2, 3)), np.zeros((2, 4)), places, setups)[1].explained[0, 0]

    assert explained([3, 3]) == pytest.approx(0.0)
    assert explained([3, 4]) == pytest.approx(0.5)


def test_squares_lead_from_scores_to_readings_and_back():
    rng = np.random.default_rng(2)
    errors = rng.multivariate_normal([0, 0, 0], [[0.02, 0.01, 0], [0.01, 0.03, 0], [0, 0, 0.01]], 5000)
    found = score(5 + errors[:, 0], 6 + errors[:, 1], 1.3 + errors[:, 2], model=S1)
    names = ("stability", "midfoot", "rearfoot", "cushioning")
    u = Scores(**{name: np.array([getattr(found, name).std()]) for name in names})
    squares = squares_of_scores(u, S1)[0]
    covariance = np.cov(errors.T, ddof=0)
    assert squares == pytest.approx([covariance[0, 0], covariance[1, 1], covariance[2, 2], covariance[0, 1]], rel=1e-6)
    for name, weights in by_model(S1).items():
        assert math.sqrt(weights @ squares) == pytest.approx(getattr(u, name)[0])


def test_homogeneity_needs_two_groups_with_a_variance():
    assert homogeneity(np.array([1.0, 0.0]), np.array([3.0, 3.0])).p is None
    assert homogeneity(np.array([2.0, 2.0, 2.0]), np.array([3.0, 3.0, 3.0])).p == pytest.approx(1.0)


KNOWN = KnownScatter(0.3, 40.0, 0.2, 9.0, 0.6, 0.36 / 25, 0.4)


def test_planned_u_by_hand():
    found = planned_u(KNOWN, specimens=3, repeats=2, days=2)
    assert found.u**2 == pytest.approx(0.3 / 6 + 0.2 / 2 + 0.6 / 3 + 0.16)
    below = (0.3 / 6) ** 2 / 40 + (0.2 / 2) ** 2 / 9 + 0.36 / 25 / 9
    assert found.df == pytest.approx(found.u**4 / below)
    # More days than specimens help nothing.
    assert planned_u(KNOWN, specimens=1, repeats=2, days=5).u == planned_u(KNOWN, specimens=1, repeats=2).u


def test_plan_finds_the_fewest_specimens():
    found = plan(KNOWN, 1.6)
    assert found.least.expanded <= 1.6
    fewer = [choice for choice in found.choices if choice.specimens < found.least.specimens]
    assert all(choice.expanded > 1.6 for choice in fewer)
    assert plan(KNOWN, 0.5).least is None
    assert plan(KNOWN, 0.5).floor == pytest.approx(2 * math.sqrt(0.16 + 0.2))


@pytest.mark.parametrize("given", [{"specimens": 0}, {"repeats": 0}, {"days": 0}])
def test_plans_of_nothing_are_refused(given):
    with pytest.raises(ValueError, match="must be ≥ 1"):
        planned_u(KNOWN, **{"specimens": 1, "repeats": 1} | given)
    with pytest.raises(ValueError, match="wanted must be > 0"):
        plan(KNOWN, 0.0)


def test_scatter_of_known_readings_has_a_symmetric_covariance():
    found = Scatter(1.0, 2.0, 3.0, 0.5, 4.0, "repeats", 0.1, 0.2).covariance()
    assert np.array_equal(found, found.T)
    assert found[0].tolist() == [1.0, 0.1, 0.2]
