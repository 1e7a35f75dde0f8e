"""What a shoe changes from barefoot, sign by sign."""

from __future__ import annotations

import itertools

import pytest
from hypothesis import given
from hypothesis import strategies as st

from fittings.domain.fitting.grading import MEASURED
from fittings.domain.fitting.intake import Condition, FootIntake, Look
from fittings.domain.fitting.looks import (
    OBSERVED,
    change_in,
    changes_of,
    checked_condition,
    condition_words,
    movement_by_shoe,
    movement_of,
)

RUN_BAREFOOT = Condition("running", "barefoot")
RUN_A = Condition("running", "candidate", "a")


def test_change_names_each_sign_that_both_looks_have():
    before = Look(RUN_BAREFOOT, FootIntake(pronation=2, rearfoot_eversion=1, rearfoot_eversion_deg=4.0))
    after = Look(RUN_A, FootIntake(pronation=1, tibial_rotation=3, rearfoot_eversion=2, rearfoot_eversion_deg=7.5))
    change = change_in(before, after)
    assert [(item.foot, item.sign, item.movement) for item in change.signs] == [
        ("left", "pronation", "better"),
        ("left", "rearfoot_eversion", "worse"),
    ]
    assert (change.signs[1].barefoot_deg, change.signs[1].shod_deg) == (4.0, 7.5)
    assert change.movement == "worse"


def test_degrees_of_one_look_alone_are_not_compared():
    change = change_in(
        Look(OBSERVED, FootIntake(pronation=2, pronation_deg=11.0)),
        Look(Condition("walking", "own"), FootIntake(pronation=2)),
    )
    assert (change.signs[0].barefoot_deg, change.signs[0].shod_deg, change.movement) == (None, None, "same")


def test_running_is_never_set_against_walking():
    with pytest.raises(ValueError, match="one gait"):
        change_in(Look(OBSERVED), Look(RUN_A))
    observed = Look(OBSERVED, FootIntake(pronation=0))
    changes = changes_of(observed, [Look(RUN_A, FootIntake(pronation=3))])
    assert [(item.condition, item.movement, item.signs) for item in changes] == [(RUN_A, None, ())]


def test_each_gait_has_its_own_look_barefoot_and_a_shoe_one_word_over_both():
    observed = Look(OBSERVED, FootIntake(pronation=2))
    looks = [
        Look(RUN_BAREFOOT, FootIntake(pronation=1)),
        Look(RUN_A, FootIntake(pronation=2)),
        Look(Condition("walking", "candidate", "a"), FootIntake(pronation=1)),
        Look(Condition("walking", "candidate", "b"), FootIntake(pronation=1)),
        Look(Condition("walking", "candidate", "c"), FootIntake(tibial_rotation=1)),
        Look(Condition("walking", "own"), FootIntake(pronation=3)),
    ]
    changes = changes_of(observed, looks)
    assert [item.movement for item in changes] == ["worse", "better", "better", None, "worse"]
    assert dict(movement_by_shoe(changes)) == {"a": "worse", "b": "better"}


@given(st.lists(st.sampled_from(["better", "same", "worse", None])))
def test_the_worst_word_wins_in_any_order(words):
    expected = next((word for word in ("worse", "better", "same") if word in words), None)
    assert movement_of(words) == expected
    assert movement_of(reversed(words)) == expected


GRADES = st.one_of(st.none(), st.integers(0, 3))
FEET = st.builds(FootIntake, **dict.fromkeys(MEASURED, GRADES))


@given(FEET, FEET, FEET, FEET)
def test_exchanging_the_looks_exchanges_better_and_worse_of_each_sign(one, two, three, four):
    walk, own = Condition("walking", "barefoot"), Condition("walking", "own")
    there = change_in(Look(walk, one, two), Look(own, three, four))
    back = change_in(Look(walk, three, four), Look(own, one, two))
    opposite = {"better": "worse", "same": "same", "worse": "better"}
    assert [opposite[item.movement] for item in there.signs] == [item.movement for item in back.signs]


@pytest.mark.parametrize(
    ("condition", "words"),
    [
        (Condition("hopping", "barefoot"), "gait must be one of walking, running"),
        (Condition("running", "sandals"), "worn must be one of barefoot, own, candidate"),
        (Condition("running", "candidate"), "Name the shoe"),
        (Condition("running", "own", "a"), "only where it is one that was tried on"),
        (OBSERVED, "is the observation"),
    ],
)
def test_conditions_that_are_no_look_of_their_own(condition, words):
    with pytest.raises(ValueError, match=words):
        checked_condition(condition)


def test_every_other_condition_is_one_and_has_words_of_its_own():
    conditions = [
        Condition(gait, worn, "a" if worn == "candidate" else "")
        for gait, worn in itertools.product(("walking", "running"), ("barefoot", "own", "candidate"))
    ]
    assert len({condition_words(item) for item in conditions}) == len(conditions)
    assert [checked_condition(item) for item in conditions if item != OBSERVED] == conditions[1:]
