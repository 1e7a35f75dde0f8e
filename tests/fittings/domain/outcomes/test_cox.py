"""Cox model: edges and laws (published values are in tests/external)."""

import numpy as np
import pytest

from fittings.domain.outcomes.cox import cox_model

NAMES = ["a", "b"]


def made_up(seed=3, n=300):
    draw = np.random.default_rng(seed)
    design = np.column_stack([draw.integers(0, 2, n), draw.normal(0, 1, n)]).astype(float)
    until = draw.exponential(20 * np.exp(-(design @ [0.7, -0.3])))
    watched = draw.uniform(1, 40, n)
    return design, np.ceil(np.minimum(until, watched)), until <= watched


def values(found, name="value"):
    return [getattr(item, name) for item in found.coefficients]


def test_order_of_the_people_and_unit_of_time_change_nothing():
    design, time, event = made_up()
    found = cox_model(design, time, event, NAMES, person=np.arange(time.size))
    order = np.random.default_rng(1).permutation(time.size)
    other = cox_model(design[order], 7 * time[order], event[order], NAMES, person=order)
    for name in ("value", "standard_error", "robust_error", "p_constant"):
        assert values(found, name) == pytest.approx(values(other, name), rel=1e-6)


def test_another_unit_of_a_term_changes_its_coefficient_alone():
    design, time, event = made_up()
    one, other = cox_model(design, time, event, NAMES), cox_model(design * [1, 10], time, event, NAMES)
    assert values(one)[0] == pytest.approx(values(other)[0])
    assert values(one)[1] == pytest.approx(10 * values(other)[1])
    assert values(one, "p") == pytest.approx(values(other, "p"))


def test_whole_days_and_strata_are_sorted_as_any_other_numbers():
    design, time, event = made_up()
    stratum = np.arange(time.size) % 7
    one = cox_model(design, time, event, NAMES, stratum=stratum)
    for other_time, other_stratum in ((time.astype(int), stratum), (time.astype(int) * 40_000, stratum + 900)):
        other = cox_model(design, other_time, event, NAMES, stratum=other_stratum)
        assert values(one) == pytest.approx(values(other))


@pytest.mark.parametrize("ties", ["efron", "breslow"])
def test_robust_errors_are_those_of_leaving_out_a_little_of_each_person(ties):
    """The residuals add up to 0 and follow the likelihood with its ties: checked against people counted twice."""
    design, time, event = made_up(n=120)
    twice = [np.concatenate([part, part]) for part in (design, time, event)]
    once = cox_model(design, time, event, NAMES, ties="breslow", person=np.arange(120))
    doubled = cox_model(*twice, NAMES, ties="breslow", person=np.tile(np.arange(120), 2))
    assert values(doubled) == pytest.approx(values(once), rel=1e-6)
    # The same people twice are no more people.
    assert values(doubled, "robust_error") == pytest.approx(values(once, "robust_error"), rel=1e-6)
    assert values(doubled, "standard_error")[0] < 0.75 * values(once, "standard_error")[0]
    robust = cox_model(design, time, event, NAMES, ties=ties, person=np.arange(120))
    assert values(robust, "robust_error") == pytest.approx(values(robust, "standard_error"), rel=0.3)


def test_residuals_follow_the_likelihood_with_ties():
    """A person's influence is the change of the coefficients when their weight changes: here, one of 2000 copies."""
    from fittings.domain.outcomes.cox import _score_residuals
    from fittings.domain.outcomes.cox_sums import risk_sets, totals_of

    design, time, event = made_up(n=60)
    sets = risk_sets(np.ascontiguousarray(design.T), time, event, efron=True)
    for beta in (np.zeros(2), np.array([0.4, -0.2])):
        residuals = _score_residuals(sets, beta)
        assert residuals.sum(axis=1) == pytest.approx(totals_of(sets, beta)[1], abs=1e-9)


def test_derivatives_are_those_of_the_likelihood():
    from fittings.domain.outcomes.cox_sums import risk_sets, totals_of

    design, time, event = made_up(n=80)
    for efron in (True, False):
        sets = risk_sets(np.ascontiguousarray(design.T), time, event, efron=efron, stratum=np.arange(80) % 3)
        at, step = np.array([0.3, -0.1]), 1e-5
        _, score, information = totals_of(sets, at)
        for k in range(2):
            up, down = (totals_of(sets, at + sign * step * np.eye(2)[k]) for sign in (1, -1))
            assert score[k] == pytest.approx((up[0] - down[0]) / (2 * step), abs=1e-4)
            assert -information[k] == pytest.approx((up[1] - down[1]) / (2 * step), abs=1e-4)


def test_a_course_in_several_rows_is_the_same_course():
    design, time, event = made_up()
    whole = cox_model(design, time, event, NAMES, person=np.arange(300), stratum=np.arange(300) % 4)
    cut = np.minimum(np.floor(time / 2), time - 1)
    halves = [np.concatenate(parts) for parts in ((design, design), (cut, time), (event & False, event))]
    split = cox_model(
        *halves,
        NAMES,
        entered=np.concatenate([0 * cut, cut]),
        person=np.tile(np.arange(300), 2),
        stratum=np.tile(np.arange(300) % 4, 2),
    )
    for name in ("value", "standard_error", "robust_error", "p_constant"):
        assert values(split, name) == pytest.approx(values(whole, name), rel=1e-6)


def test_ratio_that_turns_with_time_is_noticed():
    draw = np.random.default_rng(8)
    group = np.repeat([0.0, 1.0], 400)
    early, late = draw.exponential(5, 400), 5 + draw.exponential(5, 400)
    time = np.concatenate([np.where(draw.random(400) < 0.5, early, 40 + early), late])
    found = cox_model(group[:, None], time, time > 0, ["group"])
    assert found.coefficients[0].p_constant < 0.001


@pytest.mark.parametrize(
    ("change", "note"),
    [
        (lambda d, e: (d, e & (np.arange(300) < 20)), "too few to say: "),
        (lambda d, e: (d, e & False), "too few to say: 0 recurrences, 20 are needed for 2 coefficients"),
        (lambda d, e: (d * [1, 0], e), "not estimable: b is the same for everybody"),
        (lambda d, e: (d[:, [0, 0]] * [1, 2] + [0, 1], e), "not estimable: of a, b one follows from the others"),
        (lambda d, e: (np.column_stack([e, d[:, 1]]), e), "not estimable: a, b separate"),
    ],
    ids=["few", "none", "flat", "follows", "separates"],
)
def test_nothing_is_said_where_nothing_can_be(change, note):
    design, time, event = made_up()
    design, event = change(design, event)
    found = cox_model(design, time, event, NAMES)
    assert found.coefficients == ()
    assert found.note.startswith(note)


def test_nobody_is_too_few():
    found = cox_model(np.zeros((0, 2)), [], [], NAMES)
    assert (found.n, found.events, found.coefficients) == (0, 0, ())


@pytest.mark.parametrize(
    ("design", "time", "options", "message"),
    [
        (np.zeros((300, 3)), None, {}, "a row a course and a column a name"),
        (np.full((300, 2), np.nan), None, {}, "finite for everyone"),
        (None, [1.0], {}, "duration, event and stratum must be of one length"),
        (None, np.full(300, -1.0), {}, "duration must be finite and >= 0"),
        (None, None, {"entered": np.full(300, 99.0)}, "entered must be from 0 to duration"),
        (None, None, {"ties": "exact"}, "ties must be efron or breslow, got 'exact'"),
        (None, None, {"confidence": 1.0}, "confidence must be between 0 and 1"),
    ],
)
def test_malformed_input_is_refused(design, time, options, message):
    given_design, given_time, event = made_up()
    with pytest.raises(ValueError, match=message):
        cox_model(
            given_design if design is None else design, given_time if time is None else time, event, NAMES, **options
        )
