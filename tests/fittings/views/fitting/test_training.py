"""Drawn cases: answered once, scored by the practice's cut-offs, seen by the person and their manager."""

from __future__ import annotations

import re

import pytest

from core.audit import entries_of
from core.audit.verification import faults
from core.domain.errors import DomainError
from fittings.models import CaseResult
from fittings.selectors.fitting.cases import new_set, set_of
from fittings.services.fitting.cases import case_result_record

ADDRESS = "/fittings/training/cases/"


@pytest.fixture
def answered(cast):
    """Return a function that answers a set rightly but for the first so many cases, each one grade off."""

    def answer(who, off=0):
        drawn = new_set()
        from fittings.domain.fitting.grading import grade_of

        grades = [grade_of(case.sign, case.degrees, drawn.cutoffs) for case in drawn.cases]
        given = [grade if index >= off else abs(grade - 1) for index, grade in enumerate(grades)]
        return case_result_record(actor=who, seed=drawn.seed, cutoffs_pk=drawn.cutoffs_pk, answers=given)

    return answer


def set_on(page):
    return re.search(r'name="set" value="([^"]+)"', page.content.decode())[1]


def test_a_set_is_answered_on_the_page_and_scored_with_its_date(cast, sign_in, django_assert_max_num_queries):
    client = sign_in(cast.fitter_a)
    with django_assert_max_num_queries(6):
        page = client.get(ADDRESS)
    text = page.content.decode()
    assert text.count('<svg class="fit-case"') == 15
    assert "°" not in text  # no drawing gives its angle away
    body = {"set": set_on(page), **{f"case_{index}": "1" for index in range(15)}}
    done = client.post(ADDRESS, body)
    result = CaseResult.objects.get()
    assert done["Location"] == f"/fittings/training/{result.pk}/"
    assert (result.person, result.cases, result.answers) == (cast.fitter_a, 15, [1] * 15)
    # Every grade is drawn at least once for each of three signs, so between 3 and 6 are of grade 1.
    assert 3 <= result.right <= 6
    shown = client.get(done["Location"]).content.decode()
    assert f"{result.right} of 15 match the standard" in shown
    assert shown.count("graded correctly") == result.right
    assert f"{result.right} of 15" in client.get("/fittings/training/").content.decode()
    assert client.post(ADDRESS, body).status_code == 409
    assert CaseResult.objects.count() == 1
    assert entries_of(result).get().content["action"] == "fittings.case_result.recorded"
    assert not [fault for fault in faults() if "case" in fault.where]


def test_a_set_half_answered_is_shown_again_with_what_was_answered(cast, sign_in):
    client = sign_in(cast.fitter_a)
    first = client.get(ADDRESS)
    again = client.post(ADDRESS, {"set": set_on(first), "case_0": "2", "case_1": "9"})
    assert again.status_code == 400
    assert again.context["form"]["case_0"].value() == "2"
    assert "Pick a grade." in again.content.decode()
    drawn = [drawing for drawing, _ in first.context["cases"]]
    assert [drawing for drawing, _ in again.context["cases"]] == drawn
    assert not CaseResult.objects.exists()


@pytest.mark.parametrize("text", ["", "x", "a:b:c", None])
def test_a_set_that_nobody_signed_is_refused(cast, sign_in, text):
    if text is None:
        text = set_on(sign_in(cast.manager_a).get(ADDRESS))  # somebody else's
    answer = sign_in(cast.fitter_a).post(ADDRESS, {"set": text})
    assert answer.status_code == 400
    assert "Start a new one" in answer.content.decode()


def test_result_is_for_the_person_and_the_manager_of_their_store(cast, sign_in, answered):
    result = answered(cast.fitter_a, off=2)
    assert (result.right, result.near) == (13, 2)
    address = f"/fittings/training/{result.pk}/"
    codes = {
        who: sign_in(cast.members()[who]).get(address).status_code for who in ("fitter_a", "manager_a", "fitter_b")
    }
    assert codes == {"fitter_a": 200, "manager_a": 200, "fitter_b": 404}
    of_manager = answered(cast.manager_a)
    assert sign_in(cast.fitter_a).get(f"/fittings/training/{of_manager.pk}/").status_code == 404


def test_list_costs_the_same_however_many_results(cast, sign_in, answered, django_assert_max_num_queries):
    client = sign_in(cast.manager_a)
    for _ in range(3):
        answered(cast.fitter_a)
    with django_assert_max_num_queries(7):
        page = client.get("/fittings/training/").content.decode()
    assert page.count("15 of 15") == 3


def test_who_does_not_fit_answers_no_set(cast):
    drawn = new_set()
    for who in (cast.technician, cast.office):
        with pytest.raises(DomainError) as refused:
            case_result_record(actor=who, seed=drawn.seed, cutoffs_pk=drawn.cutoffs_pk, answers=[0] * 15)
        assert refused.value.status == 404
    with pytest.raises(DomainError) as refused:
        case_result_record(actor=cast.fitter_a, seed=drawn.seed, cutoffs_pk=drawn.cutoffs_pk, answers=[0])
    assert "answers" in refused.value.fields
    with pytest.raises(DomainError) as refused:
        set_of(1, 10**9)
    assert refused.value.status == 404
