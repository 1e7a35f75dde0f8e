"""Outcomes: who counts, what is hidden, what is said."""

from __future__ import annotations

import datetime as dt
import re

import pytest
from django.utils import timezone

from fittings.domain.disclosure.cell_keys import LARGEST
from fittings.domain.fitting.intake import FollowUpAnswer
from fittings.domain.people.recurrence import Pain
from fittings.domain.regions import Complaint
from fittings.selectors.outcomes.outcomes import outcomes_for, scope_of
from fittings.services import follow_up_answer

HEEL = Pain("heel", "left", 4)


def ago(**span):
    return timezone.now() - dt.timedelta(**span)


@pytest.fixture
def course(chosen, cast):
    """Return a function that makes a person who chose `weeks` ago and answered as told: {weeks: pains}."""

    def make(answers, *, weeks=45, slug="in-target", **intake):
        at = ago(weeks=weeks)
        fitting = chosen(at=at, slug=slug, **intake)
        for after, pains in answers.items():
            follow_up_answer(
                actor=None,
                follow_up=fitting.follow_ups.get(weeks=after),
                answer=FollowUpAnswer(distance_km_week=20.0, pain=pains, nothing_hurts=not pains),
                at=at + dt.timedelta(weeks=after),
            )
        return fitting

    return make


def test_people_answers_losses_recurrences_and_distance_are_counted(course, cast):
    course({2: (), 6: (HEEL,), 12: (HEEL,)}, name="Recurs")
    course({2: (), 6: (), 12: (), 26: ()}, name="Stays")
    course({}, name="Never answers")
    course({2: ()}, name="No history", history=())
    found = outcomes_for(cast.manager_a)
    inside, outside = found.groups
    assert (inside.people, inside.answered, inside.lost, inside.at_risk, inside.recurrences) == (4, 3, 3, 2, 1)
    assert inside.km == pytest.approx(20 * 6 + 20 * 26)
    assert inside.rate.per_1000_km == pytest.approx(1000 / 640)
    assert (outside.people, outside.rate.per_1000_km) == (0, None)
    assert [(item.share, item.at_risk, item.events) for item in inside.readings] == [
        (1.0, 2, 0), (0.5, 1, 1), (0.5, 1, 1), (0.5, 1, 1),
    ]  # fmt: skip
    assert found.comparison.too_few
    assert not found.hides
    # Lost without a recurrence: who never answered; the two who were heard count for three.
    assert (inside.loss.weeks, inside.loss.lost) == (26, 1)
    assert (inside.loss.best.value, inside.loss.worst.value) == pytest.approx((2 / 3, 1 / 3))
    assert inside.loss.weighted.value == pytest.approx(0.5)


def test_who_stopped_answering_is_counted_as_best_and_worst_case_and_weighted(course, cast, sign_in):
    course({2: (), 6: (HEEL,)}, name="Recurs")
    course({2: (), 6: (), 12: (), 26: ()}, name="Stays")
    course({2: (), 6: ()}, name="Stops")
    loss = outcomes_for(cast.manager_a).total.loss
    assert (loss.lost, loss.best.value, loss.worst.value) == (1, pytest.approx(2 / 3), pytest.approx(1 / 3))
    assert loss.weighted.value == pytest.approx(0.5)
    text = re.sub(r"<[^>]+>|\s+", " ", sign_in(cast.manager_a).get("/outcomes/").content.decode())
    assert "If people lost to follow-up had answered" in text


def test_model_page_of_all_stores_says_too_few_without_the_count(course, cast, sign_in):
    for number in range(12):
        course({2: (), 6: (HEEL,) if number < 6 else ()}, name=f"Person {number}")
    assert "6 recurrences, 40 are needed" in sign_in(cast.manager_a).get("/outcomes/model/").content.decode()
    client = sign_in(cast.office)
    for query in ("", "?use=running"):
        page = client.get(f"/outcomes/model/{query}").content.decode()
        assert "fewer than ten recurrences a coefficient" in page
        assert "6 recurrences" not in page


def test_pain_there_at_the_choice_counts_from_when_it_was_gone(course, cast):
    course({2: (HEEL,), 6: (), 12: (HEEL,)}, history=(Complaint("heel", "left", now=True),))
    total = outcomes_for(cast.manager_a).total
    assert (total.at_risk, total.recurrences) == (1, 1)
    assert total.km == pytest.approx(20 * 6)


def test_manager_sees_own_store_only(course, cast, chosen):
    course({2: ()})
    chosen(actor=cast.fitter_b, store=cast.store_b, at=ago(weeks=3), slug="in-target", name="Bea")
    assert outcomes_for(cast.manager_a).total.people == 1
    assert outcomes_for(cast.manager_a).stores == ("Store A",)
    assert outcomes_for(cast.office).stores == ("Store A", "Store B")


def test_small_counts_are_hidden_across_stores_with_what_gives_them_away(course, cast, without_noise):
    for number in range(6):
        course({2: (), 6: (HEEL,) if number < 2 else ()}, name=f"Person {number}")
    found = outcomes_for(cast.office)
    assert found.hides
    assert found.total.people == 6
    assert (found.total.recurrences, found.total.rate, found.total.readings, found.total.km) == (None, None, (), None)
    assert [group.people for group in found.groups] == [None, None]
    assert {(group.left_out, group.visits, group.visits_open) for group in found.groups} == {((None,) * 6, None, None)}
    assert found.comparison is None
    assert found.test is None


def test_enough_people_are_shown_across_stores(course, cast, without_noise):
    for number in range(12):
        course({2: (), 6: (HEEL,) if number < 6 else ()}, name=f"Person {number}")
    total = outcomes_for(cast.office).total
    assert (total.recurrences, total.at_risk) == (6, 12)
    assert total.rate.per_1000_km == pytest.approx(6000 / 1400)  # 12 times 120 km, to two digits
    assert [item and item.events for item in total.readings] == [None, 6, None, None]
    assert total.readings[1].share == pytest.approx(0.5)


def test_that_nearly_all_had_a_recurrence_is_hidden_as_that_few_had(course, cast, without_noise):
    for number in range(12):
        course({2: (), 6: (HEEL,) if number < 9 else ()}, name=f"Person {number}")
    total = outcomes_for(cast.office).total
    assert (total.at_risk, total.recurrences, total.rate) == (12, None, None)


def test_page_says_how_many_with_interval_curve_and_honest_words(course, cast, sign_in, django_assert_max_num_queries):
    course({2: (), 6: (HEEL,)}, name="Recurs")
    course({2: (), 6: (), 12: ()}, name="Stays")
    client = sign_in(cast.manager_a)
    with django_assert_max_num_queries(11):
        page = re.sub(r"\s+", " ", client.get("/outcomes/").content.decode())
    for words in (
        "show association, not cause",
        "trials of matching shoes to foot type disagree",
        "too few recurrences to say",
    ):
        assert words in page
    assert "2.78 (0.07 to 15.48)" in page  # one recurrence in 360 km, exact Poisson
    assert "Who is left out, and why" not in page
    assert '<path class="fit-curve__line' in page
    assert "Recurs" not in page
    assert "Stays" not in page


def test_page_says_who_is_left_out_and_why(course, cast, sign_in):
    course({2: (), 6: (HEEL,)}, name="Recurs")
    course({2: (Pain("knee", "left", 2),)}, name="Silent about the heel")
    course({}, name="Never answers")
    page = re.sub(r"<[^>]+>|\s+", " ", sign_in(cast.manager_a).get("/outcomes/").content.decode())
    for words in ("1 person answered no follow-up", "never said whether the complaint was there", "1 of 3 follow-ups"):
        assert words in re.sub(" +", " ", page)


def test_page_of_nobody_says_so(cast, sign_in):
    for person in (cast.manager_a, cast.office):
        page = sign_in(person).get("/outcomes/")
        assert page.status_code == 200
        assert "Nothing to draw yet" in page.content.decode()


def test_fitter_sees_the_outcomes_of_the_own_store(course, cast, sign_in, chosen):
    course({2: (), 6: ()}, name="Stays")
    chosen(actor=cast.fitter_b, store=cast.store_b, at=ago(weeks=3), slug="in-target", name="Bea")
    page = sign_in(cast.fitter_a).get("/outcomes/")
    assert page.status_code == 200
    text = re.sub(r"<[^>]+>|\s+", " ", page.content.decode())
    assert "Store A" in text
    assert "Store B" not in text
    assert "n = 1 people" in text
    assert sign_in(cast.technician).get("/outcomes/").status_code == 403


def test_figures_of_all_stores_have_noise_that_is_the_same_on_every_page(course, cast, sign_in):
    for number in range(23):
        course({2: (), 6: (HEEL,) if number < 10 else ()}, name=f"Person {number}")
    scope = scope_of(cast.office)
    whole, narrowed = outcomes_for(cast.office), outcomes_for(cast.office, wanted=scope.filter(use="running"))
    assert (whole.groups, whole.total) == (narrowed.groups, narrowed.total)
    total = whole.total
    for shown, exact in ((total.people, 23), (total.at_risk, 23), (total.recurrences, 10)):
        assert abs(shown - exact) <= LARGEST
    reading = total.readings[1]
    assert (total.recurrences, total.at_risk) == (reading.events, reading.events + reading.at_risk)
    assert reading.share == pytest.approx(1 - reading.events / total.at_risk)
    assert f"{total.km:.1e}" == f"{total.km:.15e}".replace("0" * 14, "")
    rows = sign_in(cast.office).get("/outcomes/?use=running&as=csv").getvalue().decode().splitlines()
    assert rows[-1].startswith(f"All,{total.people},")
    assert outcomes_for(cast.manager_a).total.people == 23


def test_people_enter_the_pages_of_all_stores_by_quarters_when_their_follow_ups_are_over(course, cast, without_noise):
    for number in range(6):
        course({2: ()}, name=f"Early {number}")
    for number in range(6):
        course({2: ()}, weeks=29, name=f"Late {number}")
    assert outcomes_for(cast.office).total.people == 6
    assert outcomes_for(cast.manager_a).total.people == 12
    assert scope_of(cast.office).until.day == 1
    assert scope_of(cast.manager_a).until is None


def test_selections_that_differ_by_few_people_are_not_shown_side_by_side(course, cast, without_noise):
    for number in range(12):
        course({2: (), 6: (HEEL,) if number < 6 else ()}, name=f"Runner {number}")
    for number in range(3):
        course({2: ()}, use="walking", name=f"Walker {number}")
    scope = scope_of(cast.office)
    assert outcomes_for(cast.office).total.people == 15
    few = outcomes_for(cast.office, wanted=scope.filter(use="running"))
    assert {group.people for group in few.groups} == {None}
    assert (few.total.people, few.total.readings) == (None, ())
    for number in range(2):
        course({2: ()}, use="walking", name=f"Walker {number + 3}")
    assert outcomes_for(cast.office, wanted=scope.filter(use="running")).total.people == 12


def test_newest_quarter_waits_until_enough_people_are_in_it(course, cast, without_noise):
    for number in range(8):
        course({2: ()}, weeks=62, name=f"Early {number}")
    for number in range(4):
        course({2: ()}, weeks=45, name=f"Late {number}")
    assert outcomes_for(cast.office).total.people == 8
    course({2: ()}, weeks=45, name="Late 5")
    assert outcomes_for(cast.office).total.people == 13


@pytest.mark.parametrize("address", ["", "model/", "agreement/", "demand/"])
def test_every_page_of_all_stores_says_what_is_done_to_its_counts(address, cast, sign_in):
    client = sign_in(cast.office)
    for what in ("", "&as=csv"):
        assert client.get(f"/outcomes/{address}?store=store-a{what}").status_code == 200
    assert "Every count is off by a few" in client.get(f"/outcomes/{address}").content.decode()
    assert "Every count is off by a few" not in sign_in(cast.manager_a).get(f"/outcomes/{address}").content.decode()
