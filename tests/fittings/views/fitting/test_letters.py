"""Letters to a clinician, and the reply that comes before the rules."""

from __future__ import annotations

import datetime as dt
import uuid

import pytest
from django.utils import timezone

from core.domain.errors import DomainError
from core.models import AuditEntry
from fittings.models import ClinicianReply, ReferralLetter
from fittings.services import ReplyGiven, letter_write, reply_record
from fittings.services.people import privacy
from fittings.services.people.links import token_for
from tests.shared import shared


def written(**changes):
    return {"addressee": "Dr. Sample", "remark": "Hurts after an hour.", "submission": str(uuid.uuid4())} | changes


def replied(**changes):
    day = timezone.localdate().isoformat()
    key = str(uuid.uuid4())
    return {
        "clinician": "Dr. Sample",
        "received_on": day,
        "wishes": ["insole", "stiff_shoe"],
        "submission": key,
    } | changes


def refused(call, **given):
    with pytest.raises(DomainError) as problem:
        call(**given)
    return problem.value


@shared
def fitting(chosen):
    return chosen(stop_signs=("numbness",), pain_now=6, hip_weak=True)


@pytest.fixture
def client_a(sign_in, cast):
    return sign_in(cast.fitter_a)


def test_letter_says_what_was_reported_seen_and_advised(client_a, fitting, django_assert_max_num_queries):
    offered = client_a.get(f"/fittings/{fitting.pk}/letter/").content.decode()
    assert "I am not a clinician and can’t say what this is" in offered
    sent = written()
    first, second = (client_a.post(f"/fittings/{fitting.pk}/letter/", sent) for _ in range(2))
    letter = ReferralLetter.objects.get()
    assert first.headers["Location"] == second.headers["Location"] == f"/fittings/letters/{letter.pk}/"
    with django_assert_max_num_queries(12):
        text = client_a.get(first.headers["Location"]).content.decode()
    for words in (
        "Dr. Sample",
        "Hurts after an hour.",
        "numbness or tingling",
        "given as 6 of 10",
        "2 moderate",
        "gave way",
        "a measured stability between",
        "make no diagnosis",
        "Not a diagnosis",
    ):
        assert words in text, words
    assert "style=" not in text
    assert f"/fittings/letters/{letter.pk}/" in client_a.get(f"/fittings/{fitting.pk}/").content.decode()
    assert AuditEntry.objects.filter(action="fittings.letter.written").count() == 1
    assert not AuditEntry.objects.filter(payload__contains="after an hour").exists()


def test_reply_comes_first_on_the_fitting_the_card_the_list_and_the_api(client_a, client, fitting, make_shoe):
    make_shoe("in-place", 64.0)
    sent = replied(note="no heel lift")
    for _ in range(2):
        done = client_a.post(f"/fittings/{fitting.pk}/reply/", sent)
        assert done.headers["Location"] == f"/fittings/{fitting.pk}/"
    assert ClinicianReply.objects.get().wishes == ["insole", "stiff_shoe"]
    words = "Dr. Sample asks for an insole or orthosis, so a shoe whose own insole comes out; a stiff shoe."
    page = client_a.get(f"/fittings/{fitting.pk}/").content.decode()
    assert page.count(words) == 2
    assert "no heel lift" in page
    assert "Check whether its insole comes out" in page
    assert words in client_a.get(f"/fittings/{fitting.pk}/card/").content.decode()
    assert words in client.get(f"/f/{token_for(fitting)}/").content.decode()
    said = client_a.get(f"/api/fittings/{fitting.pk}/recommendations/").json()["cautions"]
    assert any(line.startswith(words) for line in said)


def test_newest_reply_counts_and_gives_the_reason_of_a_choice(client_a, make_fitting, cast):
    fitting = make_fitting()
    today = timezone.localdate()
    for age, wish in ((0, "soft_shoe"), (9, "insole")):
        given = ReplyGiven("A physiotherapist", today - dt.timedelta(days=age), [wish])
        reply_record(actor=cast.fitter_a, fitting=fitting, given=given)
    page = client_a.get(f"/fittings/{fitting.pk}/")
    assert page.context["choice_form"]["reason"].value() == "A physiotherapist asks for a soft shoe"
    none = ReplyGiven("Dr. Sample", today, ["none"])
    reply_record(actor=cast.fitter_a, fitting=fitting, given=none)
    assert "Dr. Sample asks for no particular shoe" in client_a.get(f"/fittings/{fitting.pk}/").content.decode()


@pytest.mark.parametrize(
    ("wishes", "score", "words"),
    [
        (["stiff_shoe", "soft_shoe"], "midfoot", "Midfoot 70.0: the clinician asks for a stiff shoe"),
        (["insole", "soft_shoe"], "cushioning", "Cushioning 70.0: the clinician asks for a soft shoe"),
    ],
)
def test_shoes_in_the_target_are_ranked_by_what_the_clinician_asks_for(
    client_a, fitting, make_shoe, cast, wishes, score, words
):
    for slug, value in (("first", 40.0), ("second", 70.0), ("third", 55.0)):
        shoe = make_shoe(slug, 64.0, stock={cast.store_a: ["42.5"]})
        shoe.score_cards.update(**{score: value})
    address = f"/api/fittings/{fitting.pk}/recommendations/?limit=2&shoe=first"
    assert words not in str(client_a.get(address).json())
    given = ReplyGiven("Dr. Sample", timezone.localdate(), wishes)
    reply_record(actor=cast.fitter_a, fitting=fitting, given=given)
    said = client_a.get(address).json()
    assert [row["slug"] for row in said["results"]] == ["second", "third"]
    assert said["results"][0]["reasons"][0].startswith(words)
    assert said["left_out"][0]["slug"] == "first"
    assert said["left_out"][0]["why"].startswith("After the 2 shown")
    assert words in client_a.get(f"/fittings/{fitting.pk}/").content.decode()


@pytest.mark.parametrize(
    ("change", "field"),
    [
        ({"wishes": []}, "wishes"),
        ({"wishes": ["none", "insole"]}, "wishes"),
        ({"wishes": ["magic"]}, "wishes"),
        ({"clinician": " "}, "clinician"),
        ({"clinician": "x" * 121}, "clinician"),
        ({"received_on": "2999-01-01"}, "received_on"),
        ({"received_on": "soon"}, "received_on"),
        ({"note": "x" * 1001}, "note"),
        ({"submission": "x"}, "submission"),
    ],
)
def test_bad_reply_is_refused_at_the_field(client_a, fitting, change, field):
    page = client_a.post(f"/fittings/{fitting.pk}/reply/", replied(**change))
    assert page.status_code == 400
    assert set(page.context["form"].errors) == {field}
    assert not ClinicianReply.objects.exists()


def test_bad_letter_is_refused_at_the_field(client_a, fitting, cast):
    page = client_a.post(f"/fittings/{fitting.pk}/letter/", written(remark="x" * 1001))
    assert set(page.context["form"].errors) == {"remark"}
    assert refused(letter_write, actor=cast.fitter_a, fitting=fitting, remark="\x00").fields.keys() == {"remark"}
    bad = ReplyGiven("", timezone.localdate(), ["none"])
    assert refused(reply_record, actor=cast.fitter_a, fitting=fitting, given=bad).fields.keys() == {"clinician"}
    assert not ReferralLetter.objects.exists()


def test_nothing_is_written_for_somebody_who_withdrew(client_a, fitting, cast):
    privacy.customer_withdraw(actor=cast.fitter_a, customer=fitting.customer, reason="in-person")
    for way, sent in (("letter", written()), ("reply", replied())):
        page = client_a.post(f"/fittings/{fitting.pk}/{way}/", sent)
        assert page.status_code == 409
        assert "No data is stored about this customer" in page.content.decode()
    # The page was open while the customer withdrew.
    assert refused(letter_write, actor=cast.fitter_a, fitting=fitting).code == "not_kept"


def test_other_stores_fitting_and_letter_are_not_there(sign_in, cast, fitting, chosen):
    letter = letter_write(actor=cast.fitter_a, fitting=fitting)
    client = sign_in(cast.fitter_b)
    assert client.get(f"/fittings/letters/{letter.pk}/").status_code == 404
    assert client.post(f"/fittings/{fitting.pk}/letter/", written()).status_code == 404
    assert client.post(f"/fittings/{fitting.pk}/reply/", replied()).status_code == 404
    assert refused(letter_write, actor=cast.fitter_b, fitting=fitting).status == 404


def test_submission_of_another_fitting_is_refused(cast, fitting, chosen):
    key = uuid.uuid4()
    letter_write(actor=cast.fitter_a, fitting=fitting, submission=key)
    other = chosen(name="Bea", email="bea@example.org")
    assert refused(letter_write, actor=cast.fitter_a, fitting=other, submission=key).code == "submission_used"


def test_export_has_letter_and_reply(cast, fitting):
    from fittings.selectors.people.personal_data import export_of

    letter_write(actor=cast.fitter_a, fitting=fitting, remark="limps")
    reply_record(actor=cast.fitter_a, fitting=fitting, given=ReplyGiven("Dr. S", timezone.localdate(), ["none"]))
    held = export_of(fitting.customer)["records"]
    assert held["fittings.referralletter"][0]["remark"] == "limps"
    assert held["fittings.clinicianreply"][0]["wishes"] == ["none"]
    assert held["fittings.fitting"][0]["referral_advice"]
