"""A second fitter's look, blind to the first, and how far the two agree."""

from __future__ import annotations

import datetime as dt

import pytest
from django.utils import timezone

from core.audit.verification import faults
from core.domain.errors import DomainError
from fittings.domain.fitting.intake import FootIntake
from fittings.domain.outcomes.agreement import weighted_kappa
from fittings.models import SecondObservation
from fittings.selectors.outcomes.agreement import all_agreements
from fittings.selectors.outcomes.courses import OutcomeFilter
from fittings.services.fitting.second_look import second_observation_record
from tests.shared import shared

NOTHING = FootIntake()
SEEN = FootIntake(pronation=1, tibial_rotation=0, rearfoot_eversion=2, fpi6=7)


@shared
def look(cast):
    def take(fitting, left=SEEN, right=NOTHING, actor=None):
        return second_observation_record(actor=actor or cast.manager_a, fitting=fitting, left=left, right=right)

    return take


def test_second_look_changes_nothing_of_the_fitting(make_fitting, look):
    fitting = make_fitting()
    look(fitting)
    fitting.refresh_from_db()
    assert fitting.need_centre == 65
    assert fitting.feet.get(foot="left").pronation == 2
    assert {foot.foot: foot.pronation for foot in fitting.second_feet.all()} == {"left": 1, "right": None}
    assert not list(faults())


def test_trail_holds_no_grades(make_fitting, look):
    from core.audit import entries_of

    record = look(make_fitting())[0]
    assert "pronation" not in entries_of(record).get().payload


@pytest.mark.parametrize(
    ("who", "left", "status", "code"),
    [
        ("fitter_a", SEEN, 409, "own_fitting"),
        ("fitter_b", SEEN, 404, "not_found"),
        ("manager_a", FootIntake(), 400, "empty"),
        ("manager_a", FootIntake(pronation=4), 400, "invalid"),
        ("manager_a", FootIntake(fpi6=13), 400, "invalid"),
    ],
)
def test_refusals(cast, make_fitting, look, who, left, status, code):
    with pytest.raises(DomainError) as refused:
        look(make_fitting(), left=left, actor=cast.members()[who])
    assert (refused.value.status, refused.value.code) == (status, code)
    assert not SecondObservation.objects.exists()


def test_second_look_is_taken_once_and_of_kept_fittings_only(make_fitting, look):
    fitting = make_fitting()
    look(fitting)
    with pytest.raises(DomainError) as refused:
        look(fitting)
    assert refused.value.code == "already_looked"
    with pytest.raises(DomainError) as refused:
        look(make_fitting(consent=False))
    assert refused.value.code == "not_kept"


@shared
def pairs(make_fitting, look):
    """Twelve people seen twice: the first fitter's and the second fitter's grade of pronation."""
    grades = [(0, 0), (0, 0), (0, 1), (1, 1), (1, 1), (1, 2), (2, 2), (2, 2), (2, 3), (3, 3), (3, 3), (3, 1)]
    at = timezone.now() - dt.timedelta(weeks=45)
    for number, (first, second) in enumerate(grades):
        fitting = make_fitting(
            at=at, name=f"Person {number}", email="", left=FootIntake(pronation=first), right=FootIntake()
        )
        look(fitting, left=FootIntake(pronation=0), right=FootIntake(pronation=second))
    return grades


def test_kappa_is_of_the_worse_foot_and_says_when_too_few(cast, pairs, django_assert_num_queries):
    with django_assert_num_queries(2):
        found, _ = all_agreements(OutcomeFilter((cast.store_a.pk,)))
    pronation, tibial = found[0], found[1]
    table = [[0] * 4 for _ in range(4)]
    for first, second in pairs:
        table[first][second] += 1
    assert (pronation.n, pronation.table) == (12, tuple(map(tuple, table)))
    assert pronation.kappa == weighted_kappa(table, "quadratic")
    assert (tibial.n, tibial.kappa) == (0, None)
    observed, _ = all_agreements(OutcomeFilter((cast.store_b.pk,)))
    assert observed[0].n == 0


def test_page_of_the_second_look_is_blind_and_keeps_what_was_written(cast, sign_in, make_fitting):
    fitting = make_fitting()
    client, address = sign_in(cast.manager_a), f"/fittings/{fitting.pk}/second-look/"
    page = client.get(address).content.decode()
    assert "Ada Example" in page
    form = client.get(address).context["left"]
    assert not form.is_bound
    assert form.initial == {}
    empty = client.post(address, {})
    assert empty.status_code == 400
    assert b"Grade at least one thing" in empty.content
    bad = client.post(address, {"left-pronation": "9", "right-fpi6": "4"})
    assert bad.status_code == 400
    assert bad.context["right"]["fpi6"].value() == "4"
    assert client.post(address, {"left-pronation": "2", "right-fpi6": "4"}).status_code == 302
    assert client.post(address, {"left-pronation": "2"}).status_code == 409
    assert sign_in(cast.fitter_b).get(address).status_code == 404


def test_agreement_page_shows_own_store_whole_and_hides_across_stores(cast, sign_in, pairs, without_noise):
    page = sign_in(cast.fitter_a).get("/outcomes/agreement/").content.decode()
    assert "12" in page
    assert ">hidden<" not in page
    across = sign_in(cast.office).get("/outcomes/agreement/?as=csv").getvalue().decode().splitlines()
    cells = [line.split(",") for line in across if line.startswith("Pronation")]
    assert {cell[3] for cell in cells} == {"hidden"}
    assert {cell[4] for cell in cells} == {"12"}


def test_colleagues_fittings_wait_for_a_second_look(cast, sign_in, make_fitting, look):
    fitting = make_fitting()
    address = f"/fittings/{fitting.pk}/second-look/"
    assert address in sign_in(cast.manager_a).get("/outcomes/agreement/").content.decode()
    assert address not in sign_in(cast.fitter_a).get("/outcomes/agreement/").content.decode()
    look(fitting)
    assert address not in sign_in(cast.manager_a).get("/outcomes/agreement/").content.decode()
