"""A second look before the first can be seen: of an unfinished fitting, and of other looks than the observation."""

from __future__ import annotations

import uuid

import pytest

from core.audit.verification import faults
from core.domain.errors import DomainError
from fittings.domain.fitting.intake import Condition, CustomerIntake, FootIntake, Look
from fittings.domain.outcomes.agreement import weighted_kappa
from fittings.models import Draft, DraftSection, Fitting, SecondObservation
from fittings.selectors.outcomes.agreement import all_agreements
from fittings.selectors.outcomes.courses import OutcomeFilter
from fittings.services import person_save, section_save
from fittings.services.fitting.draft import Stamp, Whom
from fittings.services.fitting.draft_second_look import draft_second_look_save
from fittings.services.fitting.second_look import second_observation_record
from tests.shared import shared

NOTHING = FootIntake()


@pytest.fixture
def begun(cast):
    """The key of a fitting that the fitter of store A has begun."""
    key = uuid.uuid4()
    whom = Whom(CustomerIntake("Ada Example", consent=True))
    person_save(actor=cast.fitter_a, store=cast.store_a, key=key, whom=whom, stamp=Stamp())
    return key


def graded_by_first(cast, key):
    content = {"left-pronation": "3", "right-fpi6": "11"}
    section_save(actor=cast.fitter_a, key=key, name="observation", content=content, stamp=Stamp())


def finish(client, key):
    body = {
        "do": "finish",
        "person-name": "Ada Example",
        "person-consent": "yes",
        "stop-signs": ["none"],
        "intake-use": "running",
        "left-pronation": "3",
        "right-fpi6": "11",
    }
    body |= {f"{name}-version": "1" for name in ("person", "observation")}
    return client.post(f"/fittings/drafts/{key}/", body)


def test_second_look_at_an_unfinished_fitting_is_blind_and_is_compared_when_it_is_finished(cast, sign_in, begun):
    graded_by_first(cast, begun)
    colleague, address = sign_in(cast.manager_a), f"/fittings/drafts/{begun}/second-look/"
    for place in ("/fittings/", f"/fittings/drafts/{begun}/"):
        assert address in colleague.get(place).content.decode()
    form = colleague.get(address).context
    assert not any(field.value() for foot in (form["left"], form["right"]) for field in foot)
    assert colleague.post(address, {}).status_code == 400
    wrong = colleague.post(address, {"left-pronation": "7", "right-fpi6": "2"})
    assert (wrong.status_code, wrong.context["right"]["fpi6"].value()) == (400, "2")
    assert colleague.post(address, {"left-pronation": "2"}).status_code == 302
    assert colleague.post(address, {"left-pronation": "1"}).status_code == 409
    first = sign_in(cast.fitter_a)
    assert "A colleague has taken a second look" in first.get(f"/fittings/drafts/{begun}/").content.decode()
    assert finish(first, begun).status_code == 302
    second = SecondObservation.objects.get(foot="left")
    assert (second.fitter, second.pronation, second.gait, second.worn) == (cast.manager_a, 2, "walking", "barefoot")
    assert Fitting.objects.get().feet.get(foot="left").pronation == 3
    assert not DraftSection.objects.exists()
    assert not list(faults())


def test_who_finishes_the_fitting_is_no_second_fitter(cast, sign_in, begun):
    graded_by_first(cast, begun)
    draft_second_look_save(actor=cast.manager_a, key=begun, left=FootIntake(pronation=2), right=NOTHING)
    assert finish(sign_in(cast.manager_a), begun).status_code == 302
    assert Fitting.objects.get().fitter == cast.manager_a
    assert not SecondObservation.objects.exists()


@pytest.mark.parametrize(
    ("who", "left", "status", "code"),
    [
        ("fitter_a", FootIntake(pronation=1), 409, "own_fitting"),
        ("fitter_b", FootIntake(pronation=1), 404, "not_found"),
        ("office", FootIntake(pronation=1), 404, "not_found"),
        ("manager_a", NOTHING, 400, "empty"),
        ("manager_a", FootIntake(pronation=5), 400, "invalid"),
    ],
)
def test_refusals(cast, begun, who, left, status, code):
    with pytest.raises(DomainError) as refused:
        draft_second_look_save(actor=cast.members()[who], key=begun, left=left, right=NOTHING)
    assert (refused.value.status, refused.value.code) == (status, code)
    assert not DraftSection.objects.filter(name="second_look").exists()


def test_second_look_needs_a_fitting_that_is_begun_and_goes_with_a_discarded_one(cast, sign_in, begun):
    assert sign_in(cast.fitter_b).get(f"/fittings/drafts/{begun}/second-look/").status_code == 404
    client = sign_in(cast.manager_a)
    assert client.get(f"/fittings/drafts/{uuid.uuid4()}/second-look/").status_code == 404
    draft_second_look_save(actor=cast.manager_a, key=begun, left=FootIntake(pronation=2), right=NOTHING)
    assert client.post(f"/fittings/drafts/{begun}/discard/").status_code == 302
    assert not Draft.objects.exists()
    assert not DraftSection.objects.exists()


def test_what_the_first_fitter_saw_is_offered_after_the_second_look(cast, sign_in, make_fitting):
    fitting = make_fitting(left=FootIntake(pronation=3), right=NOTHING)
    address = f"/fittings/{fitting.pk}/"
    blind = sign_in(cast.manager_a).get(address).content.decode()
    assert f"{address}second-look/" in blind
    assert "marked" not in blind
    for who, query in ((cast.manager_a, "?seen=1"), (cast.fitter_a, "")):
        assert "3 marked" in sign_in(who).get(address + query).content.decode()
    second_observation_record(actor=cast.manager_a, fitting=fitting, left=FootIntake(pronation=2), right=NOTHING)
    assert "3 marked" in sign_in(cast.manager_a).get(address).content.decode()


RUN, SHOE = Condition("running", "barefoot"), Condition("running", "candidate", "tried")


def test_each_kind_of_look_is_taken_a_second_time_once(cast, make_fitting, make_shoe):
    make_shoe("tried")
    fitting = make_fitting()
    one = Look(RUN, FootIntake(pronation=1))
    take = {"actor": cast.manager_a, "fitting": fitting, "left": NOTHING, "right": NOTHING}
    second_observation_record(**take, looks=[one])
    second_observation_record(**take, looks=[Look(SHOE, FootIntake(pronation_deg=7.0))])
    with pytest.raises(DomainError) as refused:
        second_observation_record(**take, looks=[one])
    assert refused.value.code == "already_looked"
    assert SecondObservation.objects.get(worn="candidate", foot="left").pronation == 1
    assert not [fault for fault in faults() if "fitting" in fault.where or "second" in fault.where]


@shared
def pairs(cast, make_fitting, make_shoe):
    """Eleven people whom two fitters saw running barefoot; one of them in a shoe as well."""
    make_shoe("tried")
    grades = [(0, 0), (1, 1), (1, 2), (2, 2), (2, 3), (3, 3), (0, 1), (1, 1), (2, 2), (3, 1), (0, 0)]
    for number, (first, second) in enumerate(grades):
        shoe = [SHOE] if number == 0 else []
        fitting = make_fitting(
            name=f"Person {number}",
            email="",
            looks=tuple(Look(condition, FootIntake(pronation=first)) for condition in (RUN, *shoe)),
        )
        second_observation_record(
            actor=cast.manager_a,
            fitting=fitting,
            left=NOTHING,
            right=NOTHING,
            looks=[Look(condition, FootIntake(pronation=second)) for condition in (RUN, *shoe)],
        )
    return grades


def test_agreement_is_counted_by_look(cast, sign_in, pairs, django_assert_num_queries):
    wanted = OutcomeFilter((cast.store_a.pk,))
    with django_assert_num_queries(2):
        observed, looks = all_agreements(wanted)
    found = {item.label: item.signs for item in looks}
    table = [[0] * 4 for _ in range(4)]
    for first, second in pairs:
        table[first][second] += 1
    pronation, tibial, _ = found["running barefoot"]
    assert (pronation.n, pronation.table) == (11, tuple(map(tuple, table)))
    assert pronation.kappa == weighted_kappa(table, "quadratic")
    assert tibial.n == 0
    assert found["running in a shoe tried on"][0].n == 1
    assert [item.n for item in observed] == [0, 0, 0, 0]
    page = sign_in(cast.manager_a).get("/outcomes/agreement/").content.decode()
    assert "Of 11 people, 7 got the same grade from both fitters and 3 were one grade apart; 1 were further" in page
    assert "The second fitter graded higher 3 times and lower 1 time." in page
    assert page.count("Of 11 people") == 1  # nothing is said of one person in a shoe
    rows = sign_in(cast.manager_a).get("/outcomes/agreement/?as=csv").getvalue().decode()
    assert '"Pronation, running barefoot"' in rows
