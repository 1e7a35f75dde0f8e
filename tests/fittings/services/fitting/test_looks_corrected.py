"""Looks, the observation and measures on a picture that are corrected or taken back: the successor alone counts."""

from __future__ import annotations

import dataclasses

import pytest

from core.audit.verification import faults
from core.domain.errors import DomainError
from fittings.domain.fitting.angles import Marks
from fittings.domain.fitting.intake import Condition, FootIntake, FootMarks, Look
from fittings.models import LookFoot, PictureAngle, ShoeMovement, SupersededLook
from fittings.selectors.fitting.looks import looks_at
from fittings.selectors.outcomes.agreement import all_agreements
from fittings.selectors.outcomes.courses import OutcomeFilter
from fittings.services.fitting.look_corrections import angle_correct, look_correct
from fittings.services.fitting.second_look import second_observation_record
from fittings.services.people.privacy import customer_erase, customer_export
from tests.fittings.domain.fitting.test_angles import rear

RUN = Look(Condition("running", "barefoot"), FootIntake(pronation=2), FootIntake(pronation=2))
SHOD = Look(Condition("running", "candidate", "tried"), FootIntake(pronation=3), FootIntake(pronation=2))
BETTER = dataclasses.replace(SHOD, left=FootIntake(pronation=1))


@pytest.fixture
def fitting(make_fitting, make_shoe):
    make_shoe("tried")
    make_shoe("other")
    return make_fitting(left=FootIntake(pronation=2, fpi6=3), looks=(RUN, SHOD))


@pytest.fixture
def correct(cast, fitting):
    def _correct(look, *, number=None, actor=cast.fitter_a, reason="Tapped the wrong grade."):
        if number is None:
            number = looks_at(fitting).taken[SHOD.condition].number
        look_correct(actor=actor, fitting=fitting, number=number, look=look, reason=reason)

    return _correct


def trail_faults():
    return [fault for fault in faults() if "fitting" in fault.where or "look" in fault.where]


def movement():
    return list(ShoeMovement.objects.values_list("shoe__slug", "movement"))


def test_successor_counts_and_what_was_seen_stays_readable(fitting, correct, cast):
    assert movement() == [("tried", "worse")]
    taken = looks_at(fitting).taken[SHOD.condition]
    correct(BETTER)
    seen = looks_at(fitting)
    assert seen.looks == (RUN, BETTER)
    assert (seen.taken[SHOD.condition].at, seen.taken[SHOD.condition].by) == (taken.at, taken.by)
    assert movement() == [("tried", "better")]
    was = SupersededLook.objects.get()
    assert (was.content["left"]["pronation"], was.content["shoe_name"]) == (3, "Brand tried")
    assert (was.reason, was.superseded_by, was.taken_at) == ("Tapped the wrong grade.", cast.fitter_a, taken.at)
    assert not trail_faults()


def test_look_moves_to_another_shoe_or_is_taken_back(fitting, correct):
    correct(dataclasses.replace(SHOD, condition=Condition("running", "candidate", "other")))
    assert movement() == [("other", "worse")]
    number = looks_at(fitting).taken[Condition("running", "candidate", "other")].number
    correct(None, number=number)
    assert looks_at(fitting).looks == (RUN,)
    assert movement() == []


def test_observation_is_corrected_and_the_target_stays(fitting, correct):
    centre = fitting.need_centre
    correct(Look(RUN.condition, FootIntake(pronation_deg=2.0)), number=0)
    fitting.refresh_from_db()
    foot = fitting.feet.get(foot="left")
    assert (foot.pronation, foot.pronation_deg, foot.fpi6, fitting.need_centre) == (0, 2.0, 3, centre)
    assert SupersededLook.objects.get().content["left"]["pronation"] == 2
    assert not trail_faults()


@pytest.mark.parametrize(
    ("look", "options", "code", "field"),
    [
        (BETTER, {"reason": " "}, "reason_required", "reason"),
        (BETTER, {"reason": "x" * 501}, "invalid", "reason"),
        (SHOD, {}, "nothing_changed", "looks.0.left.pronation"),
        (dataclasses.replace(SHOD, condition=RUN.condition), {}, "invalid", "looks.0.worn"),
        (dataclasses.replace(SHOD, left=FootIntake(pronation=7)), {}, "invalid", "looks.0.left.pronation"),
        (Look(SHOD.condition), {}, "invalid", "looks.0.left.pronation"),
        (Look(Condition("running", "candidate", "none"), SHOD.left), {}, "invalid", "looks.0.shoe"),
        (None, {"number": 0}, "invalid", "looks.0.left.pronation"),
        (Look(RUN.condition), {"number": 0}, "invalid", "looks.0.left.pronation"),
        (BETTER, {"number": 999_999}, "not_found", None),
    ],
)
def test_bad_corrections_are_refused_and_nothing_changes(fitting, correct, look, options, code, field):
    with pytest.raises(DomainError) as refused:
        correct(look, **options)
    assert refused.value.code == code
    assert field is None or field in refused.value.fields
    assert looks_at(fitting).looks == (RUN, SHOD)
    assert not SupersededLook.objects.exists()


def test_doubled_correction_and_one_from_another_store_are_refused(fitting, correct, cast):
    number = looks_at(fitting).taken[SHOD.condition].number
    with pytest.raises(DomainError) as foreign:
        correct(BETTER, actor=cast.fitter_b)
    correct(BETTER)
    with pytest.raises(DomainError) as doubled:
        correct(None, number=number)
    assert (foreign.value.status, doubled.value.code) == (404, "already_corrected")
    assert looks_at(fitting).looks == (RUN, BETTER)


def test_agreement_uses_the_successor_and_the_second_fitter_does_not_correct(fitting, correct, cast):
    seen_second = dataclasses.replace(BETTER, right=FootIntake(pronation=1))
    nothing = {"left": FootIntake(), "right": FootIntake()}
    second_observation_record(actor=cast.manager_a, fitting=fitting, **nothing, looks=[seen_second])
    with pytest.raises(DomainError) as refused:
        correct(BETTER, actor=cast.manager_a)
    assert refused.value.code == "second_look"

    def grades():
        (table,) = [
            item.signs[0].table
            for item in all_agreements(OutcomeFilter((cast.store_a.pk,)))[1]
            if item.label == "running in a shoe tried on"
        ]
        return [(first, second) for first in range(4) for second in range(4) if table[first][second]]

    assert grades() == [(3, 1)]
    correct(BETTER)
    assert grades() == [(2, 1)]  # the right foot, which was not corrected, is the worse one now


def test_measure_on_a_picture_is_corrected_or_taken_back(make_fitting, cast):
    marks = (FootMarks("right", Marks("rearfoot_eversion", (rear(7.0), rear(8.0)))),)
    fitting = make_fitting(name="Bo Example", email="", marks=marks)
    angle = PictureAngle.objects.get()

    def correct(readings, number=angle.pk):
        angle_correct(actor=cast.fitter_a, fitting=fitting, number=number, readings=readings, reason="Wrong foot.")

    with pytest.raises(DomainError) as refused:
        correct((80.0, 80.0))
    assert list(refused.value.fields) == ["first"]
    correct((4.0, 5.0))
    now = PictureAngle.objects.get()
    assert (now.mean, now.apart, now.at) == (4.5, 1.0, angle.at)
    with pytest.raises(DomainError) as doubled:
        correct((1.0, 1.0))
    assert doubled.value.code == "already_corrected"
    correct(None, now.pk)
    assert not PictureAngle.objects.exists()
    assert [row.content["mean"] for row in SupersededLook.objects.all()] == [pytest.approx(7.5), 4.5]
    assert not trail_faults()


def test_corrected_looks_are_exported_and_removed_with_the_person(fitting, correct, cast):
    correct(BETTER)
    data = customer_export(actor=cast.manager_a, customer=fitting.customer, reason="in-person")
    (was,) = data["records"]["fittings.supersededlook"]
    assert was["content"]["left"]["pronation"] == 3
    assert any("set aside" in entry["what"] for entry in data["trail"])
    customer_erase(actor=cast.manager_a, customer=fitting.customer, reason="in-writing")
    assert not SupersededLook.objects.exists()
    assert not LookFoot.objects.exists()
    assert not trail_faults()
