"""Need under the rules N1: hand-worked people and the laws the rules obey."""

from dataclasses import replace

import pytest
from hypothesis import given
from hypothesis import strategies as st

from fittings.domain.fitting.need import N1, ObservedFoot, Person, assess
from fittings.domain.regions import Complaint

ALL_SEEN = ObservedFoot(0, 0, 0)
grades = st.one_of(st.none(), st.integers(0, 3))
feet = st.builds(ObservedFoot, grades, grades, grades, st.one_of(st.none(), st.integers(-12, 12)))
complaints = st.builds(
    Complaint, st.sampled_from(["heel", "inner_shin", "front_of_knee", "foot", "thigh"]), st.none(), st.booleans()
)
people = st.builds(
    Person,
    st.sampled_from(["running", "walking", "standing"]),
    st.one_of(st.none(), st.floats(30, 200)),
    feet,
    feet,
    st.one_of(st.none(), st.booleans()),
    st.lists(complaints, max_size=4).map(tuple),
)


def points(need):
    return {item.what: item.points for item in need.contributions}


def test_a_person_with_nothing_seen_but_all_looked_at_starts_at_45():
    need = assess(Person("walking", left=ALL_SEEN, right=ALL_SEEN))
    assert (need.rules, need.centre, need.low, need.high) == ("N1", 45.0, 39.0, 51.0)
    assert need.left_out == ()


def test_a_heavy_runner_worked_by_hand():
    # 45 + pronation moderate 12 + rotation marked 9 + heel slight 3 + posture index 11: 4
    # + 96 kg: 8 + weak hip 3 + past heel pain 5
    left, right = ObservedFoot(2, 0, 1, 11), ObservedFoot(1, 3, 0, 6)
    person = Person("running", 96, left, right, True, (Complaint("heel", "left", False, None),))
    need = assess(person)
    assert need.centre == 89.0
    assert (need.low, need.high) == (83.0, 95.0)
    assert points(need) == {
        "Starting point": 45.0,
        "Pronation: moderate (left)": 12.0,
        "Tibial rotation: marked (right)": 9.0,
        "Rearfoot eversion: slight (left)": 3.0,
        "Foot Posture Index +11 (left)": 4.0,
        "Body mass 96 kg, running": 8.0,
        "Weak hip in the single-leg squat": 3.0,
        "Past pain: heel, left": 5.0,
    }


@pytest.mark.parametrize(("name", "expected"), [("pronation", (0, 5, 12, 20)), ("tibial_rotation", (0, 3, 6, 9))])
def test_points_of_each_grade(name, expected):
    for grade, more in enumerate(expected):
        assert assess(Person("walking", left=replace(ALL_SEEN, **{name: grade}))).centre == 45 + more


@pytest.mark.parametrize(("mass_kg", "more"), [(None, 0), (82, 0), (82.01, 4), (95, 4), (95.01, 8), (140, 8)], ids=str)
def test_running_mass_counts_above_each_limit_and_is_not_added_up(mass_kg, more):
    assert assess(Person("running", mass_kg, ALL_SEEN)).centre == 45 + more
    assert assess(Person("walking", mass_kg, ALL_SEEN)).centre == 45
    assert assess(Person("standing", mass_kg, ALL_SEEN)).centre == 45


@pytest.mark.parametrize(("index", "more"), [(-12, 0), (5, 0), (6, 2), (9, 2), (10, 4), (12, 4)])
def test_posture_index_counts_from_each_limit_on_the_worse_foot(index, more):
    assert (
        assess(Person("walking", left=replace(ALL_SEEN, fpi6=index), right=ObservedFoot(fpi6=-12))).centre == 45 + more
    )


@pytest.mark.parametrize("region", ["heel", "inner_shin", "front_of_knee"])
def test_past_pain_counts_once_and_pain_now_lifts_to_70(region):
    past, now = Complaint(region), Complaint(region, "left", now=True)
    assert assess(Person("walking", left=ALL_SEEN, history=(past, past, Complaint("heel")))).centre == 50
    lifted = assess(Person("walking", left=ALL_SEEN, history=(now,)))
    assert (lifted.centre, lifted.low, lifted.high) == (70.0, 64.0, 76.0)
    assert lifted.contributions[-1].points == 25.0
    assert "Pain now" in lifted.contributions[-1].what


def test_pain_now_does_not_lower_a_centre_above_70():
    person = Person("walking", left=ObservedFoot(3, 3, 3), history=(Complaint("heel", now=True),))
    need = assess(person)
    assert need.centre == 83.0
    assert need.contributions[-1].points == 0.0


def test_pain_elsewhere_adds_nothing():
    assert (
        assess(Person("walking", left=ALL_SEEN, history=(Complaint("foot", now=True), Complaint("knee")))).centre == 45
    )


def test_each_observation_left_out_on_both_feet_widens_by_two():
    one_foot = assess(Person("walking", left=ObservedFoot(1, None, None), right=ObservedFoot(None, 1, None)))
    assert one_foot.left_out == ("Rearfoot eversion",)
    assert one_foot.high - one_foot.low == 16.0
    nothing = assess(Person("walking"))
    assert len(nothing.left_out) == 3
    assert (nothing.centre, nothing.low, nothing.high) == (45.0, 33.0, 57.0)


def test_missing_is_not_listed_as_nought():
    assert points(assess(Person("running"))) == {"Starting point": 45.0}
    assert points(assess(Person("walking", left=ALL_SEEN, right=ALL_SEEN)))["Pronation: none (both feet)"] == 0.0


@given(people)
def test_contributions_add_up_and_the_interval_is_centred(person):
    need = assess(person)
    assert sum(item.points for item in need.contributions) == pytest.approx(need.centre)
    assert need.high - need.centre == pytest.approx(need.centre - need.low)
    assert need.high - need.low == pytest.approx(12 + 4 * len(need.left_out))


@given(people)
def test_feet_may_be_exchanged(person):
    other = replace(person, left=person.right, right=person.left)
    assert assess(other).centre == assess(person).centre


@given(people, st.sampled_from(["pronation", "tibial_rotation", "rearfoot_eversion"]), st.integers(0, 2))
def test_a_higher_grade_never_lowers_the_centre(person, name, grade):
    milder = replace(person, left=replace(person.left, **{name: grade}))
    worse = replace(person, left=replace(person.left, **{name: grade + 1}))
    assert assess(worse).centre >= assess(milder).centre


@given(people)
def test_pain_now_always_gives_at_least_70(person):
    assert assess(replace(person, history=(*person.history, Complaint("heel", None, True)))).centre >= 70


@pytest.mark.parametrize(
    ("person", "message"),
    [
        (Person("flying"), "use must be one of running, walking, standing, got 'flying'"),
        (Person("running", 5), "body_mass_kg must be a number from 10 to 400, got 5"),
        (Person("running", left=ObservedFoot(pronation=4)), "left pronation must be a whole number from 0 to 3, got 4"),
        (Person("running", right=ObservedFoot(fpi6=13)), "right fpi6 must be a whole number from −12 to 12, got 13"),
    ],
)
def test_bad_values_are_named(person, message):
    with pytest.raises(ValueError, match=message):
        assess(person)


def test_other_rules_give_another_need():
    rules = replace(N1, version="N2", base=50.0)
    assert assess(Person("walking", left=ALL_SEEN), rules).centre == 50.0
    assert assess(Person("walking"), rules).rules == "N2"
