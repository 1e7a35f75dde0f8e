"""Looks in motion: with the fitting, added to it, exported and removed with the person, and in the outcomes."""

from __future__ import annotations

import datetime as dt

import pytest
from django.utils import timezone

from core.audit import entries_of
from core.audit.verification import faults
from core.domain.errors import DomainError
from fittings.domain.fitting.intake import Condition, FootIntake, Look
from fittings.models import LookFoot, ShoeMovement
from fittings.selectors.fitting.looks import looks_at
from fittings.selectors.outcomes.courses import courses_apart
from fittings.selectors.outcomes.outcomes import outcomes_for
from fittings.services.fitting.looks import looks_record
from fittings.services.people.privacy import customer_erase, customer_export, customer_withdraw

RUN = Look(Condition("running", "barefoot"), FootIntake(pronation=2), FootIntake(pronation=2))


def in_shoe(slug, grade, gait="running"):
    return Look(Condition(gait, "candidate", slug), FootIntake(pronation=grade), FootIntake(pronation=2))


def test_looks_come_with_the_fitting_and_leave_the_need_alone(make_fitting, make_shoe):
    make_shoe("tried")
    plain = make_fitting()
    fitting = make_fitting(name="Bo Example", email="", looks=(RUN, in_shoe("tried", 3)))
    assert fitting.need_centre == plain.need_centre
    assert fitting.need_contributions == plain.need_contributions
    seen = looks_at(fitting)
    assert seen.looks == (RUN, in_shoe("tried", 3))
    assert {taken.by for taken in seen.taken.values()} == {fitting.fitter.display_name}
    assert ShoeMovement.objects.get(fitting=fitting).movement == "worse"


def test_degrees_make_the_grade_by_the_cutoffs_in_use(make_fitting):
    look = Look(Condition("running", "own"), FootIntake(rearfoot_eversion_deg=7.5))
    fitting = make_fitting(looks=(look,))
    left = LookFoot.objects.get(fitting=fitting, foot="left")
    assert (left.rearfoot_eversion, left.rearfoot_eversion_deg, left.cutoffs.name) == (2, 7.5, "G1")
    assert LookFoot.objects.get(fitting=fitting, foot="right").cutoffs is None


def test_nothing_is_stored_without_consent(make_fitting):
    make_fitting(consent=False, looks=(RUN,))
    assert not LookFoot.objects.exists()


@pytest.mark.parametrize(
    ("look", "field"),
    [
        (Look(Condition("running", "candidate", "missing"), FootIntake(pronation=1)), "looks.0.shoe"),
        (Look(Condition("running", "candidate", "a\x00b"), FootIntake(pronation=1)), "looks.0.shoe"),
        (Look(Condition("walking", "barefoot"), FootIntake(pronation=1)), "looks.0.worn"),
        (Look(Condition("running", "barefoot")), "looks.0.left.pronation"),
        (Look(Condition("running", "barefoot"), FootIntake(pronation=4)), "looks.0.left.pronation"),
        (Look(Condition("running", "own"), right=FootIntake(pronation_deg=80.0)), "looks.0.right.pronation_deg"),
        (
            Look(Condition("running", "own"), FootIntake(pronation=0, pronation_deg=12.0)),
            "looks.0.left.pronation_deg",
        ),
    ],
)
def test_a_bad_look_is_refused_at_its_field_and_nothing_is_stored(make_fitting, look, field):
    from fittings.models import Fitting

    with pytest.raises(DomainError) as refused:
        make_fitting(looks=(look,))
    assert refused.value.status == 400
    assert list(refused.value.fields) == [field]
    assert not Fitting.objects.exists()


def test_one_look_of_a_kind(make_fitting):
    with pytest.raises(DomainError) as refused:
        make_fitting(looks=(RUN, RUN))
    assert list(refused.value.fields) == ["looks.1.worn"]
    fitting = make_fitting(looks=(RUN,))
    with pytest.raises(DomainError) as refused:
        looks_record(actor=fitting.fitter, fitting=fitting, looks=[RUN])
    assert "was already recorded" in refused.value.fields["looks.0.worn"][0]
    with pytest.raises(DomainError) as refused:
        looks_record(actor=fitting.fitter, fitting=fitting, looks=[])
    assert refused.value.code == "empty"


def test_a_look_added_later_is_in_the_trail_without_what_was_seen(cast, make_fitting, make_shoe):
    make_shoe("tried")
    fitting = make_fitting(looks=(in_shoe("tried", 1),))
    assert not ShoeMovement.objects.exists()  # not looked at running barefoot yet
    looks_record(actor=cast.manager_a, fitting=fitting, looks=[RUN])
    assert ShoeMovement.objects.get(fitting=fitting).movement == "better"
    entry = entries_of(fitting).first()
    assert entry.content["action"] == "fittings.fitting.looked"
    assert entry.content["actor_name"] == cast.manager_a.display_name
    assert "pronation" not in entry.payload
    assert not [fault for fault in faults() if "fitting" in fault.where]


@pytest.mark.parametrize(("who", "status"), [("fitter_b", 404), ("technician", 404), ("office", 404)])
def test_other_people_add_no_look(cast, make_fitting, who, status):
    with pytest.raises(DomainError) as refused:
        looks_record(actor=cast.members()[who], fitting=make_fitting(), looks=[RUN])
    assert refused.value.status == status
    assert not LookFoot.objects.exists()


def test_looks_go_with_the_person(cast, make_fitting, make_shoe):
    make_shoe("tried")
    fitting = make_fitting(looks=(RUN, in_shoe("tried", 2)))
    exported = customer_export(actor=cast.manager_a, customer=fitting.customer, reason="in-person")
    rows = exported["records"]["fittings.lookfoot"]
    assert [(row["gait"], row["worn"], row["shoe__slug"], row["foot"]) for row in rows] == [
        ("running", "barefoot", None, "left"),
        ("running", "barefoot", None, "right"),
        ("running", "candidate", "tried", "left"),
        ("running", "candidate", "tried", "right"),
    ]
    assert [row["movement"] for row in exported["records"]["fittings.shoemovement"]] == ["same"]
    customer_withdraw(actor=cast.fitter_a, customer=fitting.customer, reason="in-person")
    assert not LookFoot.objects.exists()
    assert not ShoeMovement.objects.exists()
    other = make_fitting(looks=(RUN,))
    customer_erase(actor=cast.manager_a, customer=other.customer, reason="in-person")
    assert not LookFoot.objects.exists()
    assert not [fault for fault in faults() if "fitting" in fault.where]


def test_outcomes_are_split_by_motion_in_the_shoe_chosen(cast, chosen, make_shoe, django_assert_num_queries):
    at = timezone.now() - dt.timedelta(weeks=20)
    make_shoe("in-target", 65.0)
    make_shoe("other", 65.0)
    for number, looks in enumerate(
        [(RUN, in_shoe("in-target", 3)), (RUN, in_shoe("in-target", 1)), (RUN, in_shoe("other", 3)), ()]
    ):
        chosen(at=at, name=f"Person {number}", email="", looks=looks)
    with django_assert_num_queries(4):
        found = outcomes_for(cast.manager_a, by="movement")
    assert {group.name: group.people for group in found.groups} == {
        "Worse than barefoot": 1,
        "Better than barefoot": 1,
        "Not looked at": 2,
    }
    assert found.total.people == 4
    # The courses themselves say nothing of looks, so none of them changes by one.
    assert courses_apart() == []
