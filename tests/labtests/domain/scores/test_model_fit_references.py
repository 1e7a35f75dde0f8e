"""Fitting a scoring model to reference shoes."""

import dataclasses

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from labtests.domain.scores.model_fit import ReferenceShoe, fit_model
from labtests.domain.scores.scoring import S1, Model, score

ANCHORS = ("torque_0_nm", "torque_100_nm", "deflection_0_mm", "deflection_100_mm", "work_0_j", "work_100_j")
WEIGHTS = ("weight_midfoot", "weight_rearfoot")


def shoes_scored_by(model, *, n=8, noise=0.0, seed=0):
    rng = np.random.default_rng(seed)
    torque, deflection, work = rng.uniform(2, 9, n), rng.uniform(3, 9, n), rng.uniform(0.8, 2.2, n)
    scores = score(torque, deflection, work, model=model)
    return [
        ReferenceShoe(
            name=f"reference-{place}",
            torque_15_nm=float(torque[place]),
            deflection_mm=float(deflection[place]),
            work_j=float(work[place]),
            **{
                name: float(getattr(scores, name)[place] + rng.normal(0, noise))
                for name in ("midfoot", "rearfoot", "cushioning", "stability")
            },
        )
        for place in range(n)
    ]


def leaving_out(shoes, **changes):
    return [dataclasses.replace(shoe, **changes) for shoe in shoes]


@given(st.integers(0, 999), st.integers(3, 12))
def test_s1_comes_back_from_the_scores_it_gave(seed, n):
    fit = fit_model(shoes_scored_by(S1, n=n, seed=seed), base=S1, version="S2")
    for name in (*ANCHORS, *WEIGHTS):
        assert getattr(fit.model, name) == pytest.approx(getattr(S1, name), rel=1e-6, abs=1e-7)
    assert fit.model.version == "S2"
    assert fit.held == ()
    for part in fit.parts:
        assert part.n == n
        assert part.residual_sd == pytest.approx(0.0, abs=1e-8)
        assert all(parameter.standard_error == pytest.approx(0.0, abs=1e-8) for parameter in part.parameters)


@given(st.floats(-1, 1), st.floats(5, 15), st.floats(8, 12), st.floats(1, 4), st.floats(0.01, 0.99), st.integers(0, 99))
def test_any_model_comes_back_from_the_scores_it_gave(t0, t100, d0, d100, weight, seed):
    model = Model("X", t0, t100, d0, d100, 0.5, 2.5, weight, 1.0 - weight)
    fit = fit_model(shoes_scored_by(model, seed=seed), base=S1, version="X")
    for name in (*ANCHORS, *WEIGHTS):
        assert getattr(fit.model, name) == pytest.approx(getattr(model, name), rel=1e-6, abs=1e-6)


@given(st.integers(0, 99), st.sampled_from([8.850745791327185, 0.001]))
def test_another_unit_of_torque_scales_its_anchors_and_their_errors_only(seed, factor):
    shoes = shoes_scored_by(S1, noise=1.0, seed=seed)
    scaled = [dataclasses.replace(shoe, torque_15_nm=factor * shoe.torque_15_nm) for shoe in shoes]
    one, other = fit_model(shoes, base=S1, version="a"), fit_model(scaled, base=S1, version="a")
    for mine, theirs in zip(one.parts[0].parameters, other.parts[0].parameters, strict=True):
        assert theirs.value == pytest.approx(factor * mine.value, rel=1e-9, abs=1e-12)
        assert theirs.standard_error == pytest.approx(factor * mine.standard_error)
    assert other.parts[3].residual_sd == pytest.approx(one.parts[3].residual_sd)
    assert other.model.weight_midfoot == pytest.approx(one.model.weight_midfoot)


@given(st.integers(0, 99))
def test_no_other_anchors_or_weights_have_smaller_squares(seed):
    shoes = shoes_scored_by(S1, noise=2.0, seed=seed)
    fit = fit_model(shoes, base=S1, version="a")
    best = {part.score: sum(one.residual**2 for one in part.residuals) for part in fit.parts}
    rng = np.random.default_rng(seed)
    for _ in range(5):
        moved = {name: getattr(fit.model, name) * (1 + rng.normal(0, 0.02)) + rng.normal(0, 0.01) for name in ANCHORS}
        other = dataclasses.replace(fit.model, **moved)
        assert squares(shoes, other, "midfoot") >= best["midfoot"]
        assert squares(shoes, other, "rearfoot") >= best["rearfoot"]
        weight = float(np.clip(fit.model.weight_midfoot + rng.normal(0, 0.05), 0, 1))
        turned = dataclasses.replace(fit.model, weight_midfoot=weight, weight_rearfoot=1 - weight)
        assert squares(shoes, turned, "stability") >= best["stability"] - 1e-9


def squares(shoes, model, name):
    columns = [np.array([getattr(shoe, reading) for shoe in shoes]) for reading in ("torque_15_nm", "deflection_mm")]
    fitted = getattr(score(*columns, np.ones(len(shoes)), model=model), name)
    return float(np.sum((fitted - np.array([getattr(shoe, name) for shoe in shoes])) ** 2))


def test_residuals_are_those_of_the_proposed_model():
    shoes = shoes_scored_by(S1, noise=1.5, seed=7)
    fit = fit_model(shoes, base=S1, version="S2")
    for part in fit.parts:
        for shoe, residual in zip(shoes, part.residuals, strict=True):
            scores = score(shoe.torque_15_nm, shoe.deflection_mm, shoe.work_j, model=fit.model)
            assert residual.shoe == shoe.name
            assert residual.reference == getattr(shoe, part.score)
            assert residual.fitted == pytest.approx(getattr(scores, part.score))
            assert residual.residual == pytest.approx(residual.reference - residual.fitted)
        parameters = 1 if part.score == "stability" else 2
        assert part.df == part.n - parameters
        assert part.residual_sd**2 * part.df == pytest.approx(sum(one.residual**2 for one in part.residuals))


def test_standard_errors_are_the_scatter_of_repeated_fits():
    """First-order propagation against 1500 repetitions with new errors, within 5 %."""
    rng = np.random.default_rng(11)
    torque, deflection = np.linspace(2, 9, 12), np.tile([4.0, 6.0, 8.0], 4)
    exact = score(torque, deflection, np.ones(12), model=S1)
    found = {name: [] for name in ("torque_0_nm", "torque_100_nm", "weight_midfoot")}
    errors = {name: [] for name in found}
    for _ in range(1500):
        shoes = [
            ReferenceShoe(
                str(place),
                torque_15_nm=torque[place],
                deflection_mm=deflection[place],
                midfoot=exact.midfoot[place] + rng.normal(0, 1.0),
            )
            for place in range(12)
        ]
        for parameter in fit_model(shoes, base=S1, version="a").parts[0].parameters:
            found[parameter.name].append(parameter.value)
            errors[parameter.name].append(parameter.standard_error)
        weigh = [
            dataclasses.replace(shoe, midfoot=None, stability=exact.stability[place] + rng.normal(0, 1.0))
            for place, shoe in enumerate(shoes)
        ]
        parameter = fit_model(weigh, base=S1, version="a").parts[0].parameters[0]
        found[parameter.name].append(parameter.value)
        errors[parameter.name].append(parameter.standard_error)
    for name, values in found.items():
        assert np.sqrt(np.mean(np.square(errors[name]))) == pytest.approx(np.std(values, ddof=1), rel=0.05)


def test_scores_without_references_keep_the_numbers_of_the_base():
    shoes = leaving_out(shoes_scored_by(S1), midfoot=None, rearfoot=None, cushioning=None)
    base = dataclasses.replace(S1, weight_midfoot=0.3, weight_rearfoot=0.7)
    fit = fit_model(shoes, base=base, version="S2")
    assert fit.held == ("midfoot", "rearfoot", "cushioning")
    assert fit.model.torque_100_nm == S1.torque_100_nm
    assert (fit.model.weight_midfoot, fit.model.weight_rearfoot) == pytest.approx((0.54, 0.46))
    held = fit_model(leaving_out(shoes_scored_by(S1), stability=None), base=base, version="S2")
    assert held.held == ("stability",)
    assert held.model.weight_midfoot == 0.3


def test_shoes_without_a_score_or_its_reading_are_left_out_of_that_part():
    shoes = shoes_scored_by(S1, n=6)
    shoes[0] = dataclasses.replace(shoes[0], midfoot=None)
    shoes[1] = dataclasses.replace(shoes[1], torque_15_nm=None)
    fit = fit_model(shoes, base=S1, version="S2")
    assert [part.n for part in fit.parts] == [4, 6, 6, 5]


def test_weights_at_the_end_of_their_range_are_kept_exact():
    model = dataclasses.replace(S1, weight_midfoot=1.0, weight_rearfoot=0.0)
    fit = fit_model(shoes_scored_by(model), base=S1, version="S2")
    assert fit.model.weight_midfoot == pytest.approx(1.0, abs=1e-9)
    assert fit.model.weight_rearfoot >= 0.0


def with_scores(name, values, **same):
    shoes = shoes_scored_by(S1, n=len(values))
    return [
        ReferenceShoe(shoe.name, shoe.torque_15_nm, shoe.deflection_mm, shoe.work_j, **{name: value})
        for shoe, value in zip(leaving_out(shoes, **same), values, strict=True)
    ]


@pytest.mark.parametrize(
    ("shoes", "words"),
    [
        ([], "at least one shoe must have a reference score, got none"),
        (leaving_out(with_scores("midfoot", [1.0] * 4), midfoot=None), "must have a reference score, got none"),
        (
            with_scores("midfoot", [10.0, 20.0]),
            "shoes with a midfoot score must have the torque, got 2",
        ),
        (
            with_scores("stability", [10.0, 20.0, 30.0], deflection_mm=None),
            "at least 3 reference shoes with a stability score must have the torque and the deflection, got 0",
        ),
        (
            with_scores("rearfoot", [10.0, 20.0, 30.0], deflection_mm=5.0),
            "the deflection must differ between the reference shoes, got 5 from all",
        ),
        (
            with_scores("cushioning", [50.1, 50.1, 50.1]),
            "the cushioning score must differ between the reference shoes, got 50.1 from all",
        ),
        (with_scores("midfoot", [10.0, float("nan"), 1.0]), "midfoot of reference-1 must be finite, got nan"),
        (
            with_scores("stability", [10.0, 20.0, 30.0], torque_15_nm=0.0, deflection_mm=10.0),
            "midfoot and rearfoot must differ in some reference shoe to weigh them, got the same in all",
        ),
    ],
)
def test_references_that_cannot_be_fitted_are_refused(shoes, words):
    with pytest.raises(ValueError, match=words):
        fit_model(shoes, base=S1, version="S2")


def test_references_that_do_not_move_with_the_reading_are_refused():
    values = [50.0, 30.0, 55.0, 31.0]
    shoes = [ReferenceShoe(str(n), torque_15_nm=3.0 + n, midfoot=value) for n, value in enumerate(values)]
    with pytest.raises(ValueError, match="the midfoot score must change clearly with the torque, got a slope of −"):
        fit_model(shoes, base=S1, version="S2")


@pytest.mark.parametrize(
    ("reading", "name", "step", "words"),
    [
        ("torque_15_nm", "midfoot", -10.0, "the midfoot score must rise with the torque, got a slope of −10"),
        ("deflection_mm", "rearfoot", 10.0, "the rearfoot score must fall with the deflection, got a slope of 10"),
    ],
)
def test_references_that_run_against_the_scale_are_refused(reading, name, step, words):
    shoes = [ReferenceShoe(str(n), **{reading: 3.0 + n, name: 50.0 + step * n}) for n in range(4)]
    with pytest.raises(ValueError, match=words):
        fit_model(shoes, base=S1, version="S2")


def test_stability_references_that_no_weight_explains_are_refused():
    shoes = shoes_scored_by(S1)
    beyond = [dataclasses.replace(shoe, stability=1.5 * shoe.midfoot - 0.5 * shoe.rearfoot) for shoe in shoes]
    with pytest.raises(ValueError, match=r"must be from 0 to 1, stability references ask for 1\.5"):
        fit_model(beyond, base=S1, version="S2")
