"""A worrying answer: what the customer reads at once, and the list of answers that need attention."""

from __future__ import annotations

import datetime as dt

import pytest
from django.utils import timezone

from core.domain.errors import DomainError
from core.models import AuditEntry
from fittings.models import AnswerConcern
from fittings.services import concern_close, concern_signs_answer, concern_take_over
from fittings.services.people import privacy
from fittings.services.people.links import token_for
from tests.fittings.services.people.test_privacy_requests import faults_of_fittings
from tests.fittings.views.people.test_customer_links import ago, answer_url, answers
from tests.shared import shared

CLOSED = {"outcome": "advised", "note": "Called; sees the doctor tomorrow."}


@shared
def fitting(chosen):
    return chosen(at=ago(weeks=3))


@pytest.fixture
def concern(client, fitting):
    client.post(answer_url(fitting), answers(fitting, **{"pain-0-score": "9"}))
    return AnswerConcern.objects.get()


def signs_of(client, fitting, concern, *signs):
    return client.post(f"/f/{token_for(fitting)}/signs/", {"concern": concern.pk, "signs": list(signs)})


def refused(call, **given):
    with pytest.raises(DomainError) as problem:
        call(**given)
    return problem.value


def test_customer_reads_at_once_to_see_a_clinician_and_is_asked_the_stop_signs(client, fitting):
    page = client.post(answer_url(fitting), answers(fitting, **{"pain-0-score": "10"})).content.decode()
    assert "Your pain was 10 of 10." in page
    assert "Please see a licensed clinician" in page
    assert 'value="calf"' in page
    assert "none of these" in page
    concern = AnswerConcern.objects.get()
    assert concern.owner == fitting.fitter
    assert concern.due_on == timezone.localdate() + dt.timedelta(days=2)


def test_harmless_answer_is_thanked_and_not_listed(client, fitting):
    page = client.post(answer_url(fitting), answers(fitting, **{"pain-0-score": "0"})).content.decode()
    assert "Thank you for your answers." in page
    assert "licensed clinician, such as" not in page
    assert not AnswerConcern.objects.exists()


def test_stop_sign_of_the_customer_makes_it_due_today(client, fitting, concern):
    page = signs_of(client, fitting, concern, "calf", "swelling").content.decode()
    assert "You ticked: swelling; one calf hot, swollen or tender." in page
    assert "This should be seen today" in page
    concern.refresh_from_db()
    assert (concern.stop_signs, concern.due_on) == (["swelling", "calf"], timezone.localdate())
    again = signs_of(client, fitting, concern, "none")
    assert "We have your answers." in again.content.decode()
    concern.refresh_from_db()
    assert concern.stop_signs == ["swelling", "calf"]


def test_none_of_these_still_says_to_see_a_clinician(client, fitting, concern):
    assert "Please see a licensed clinician" in signs_of(client, fitting, concern, "none").content.decode()
    concern.refresh_from_db()
    assert (concern.stop_signs, concern.stop_signs_asked_at is None) == ([], False)


@pytest.mark.parametrize("signs", [[], ["hunger"], ["none", "calf"]])
def test_bad_stop_signs_are_named_and_asked_again(client, fitting, concern, signs):
    page = signs_of(client, fitting, concern, *signs)
    assert page.status_code == 400
    assert 'class="field__error"' in page.content.decode()
    concern.refresh_from_db()
    assert concern.stop_signs_asked_at is None


@pytest.mark.parametrize("sent", ["", "x", "999999", "9" * 30, "\x00", "²"])
def test_foreign_answer_is_not_reached_through_a_link(client, fitting, concern, chosen, sent):
    other = chosen(at=ago(weeks=3), name="Bea", email="bea@example.org")
    address = f"/f/{token_for(other)}/signs/"
    for given in (sent, str(concern.pk)):
        assert "We have your answers." in client.post(address, {"concern": given, "signs": "calf"}).content.decode()
    concern.refresh_from_db()
    assert concern.stop_signs == []


def test_signs_address_opened_or_with_a_bad_link(client, fitting):
    assert client.get(f"/f/{token_for(fitting)}/signs/").status_code == 302
    assert client.post("/f/no-such/signs/", {"concern": "1"}).status_code == 404


def test_answer_by_telephone_is_looked_after_by_the_caller(sign_in, cast, fitting):
    due = fitting.follow_ups.get(weeks=2)
    client = sign_in(cast.manager_a)
    page = client.post(f"/fittings/follow-ups/{due.pk}/", answers(fitting, days_off="9"), follow=True)
    assert "It is in “Answers that need attention”" in page.content.decode()
    assert AnswerConcern.objects.get().owner == cast.manager_a


@pytest.mark.parametrize("who", ["fitter_a", "manager_a"])
def test_on_today_and_on_the_list_until_closed(sign_in, cast, concern, who, django_assert_max_num_queries):
    client = sign_in(cast.members()[who])
    for address in ("/fittings/", "/fittings/answers/"):
        with django_assert_max_num_queries(16):
            page = client.get(address).content.decode()
        assert f"/fittings/answers/{concern.pk}/" in page
        assert "Your pain was 9 of 10." in page
    done = client.post(f"/fittings/answers/{concern.pk}/close/", CLOSED)
    assert done.headers["Location"] == "/fittings/answers/"
    assert f"/fittings/answers/{concern.pk}/" not in client.get("/fittings/").content.decode()
    listed = client.get("/fittings/answers/").content.decode()
    assert "reached, and advised to see a clinician" in listed
    assert CLOSED["note"] in client.get(f"/fittings/answers/{concern.pk}/").content.decode()


def test_another_fitter_takes_over_and_records_the_signs(sign_in, cast, concern):
    client = sign_in(cast.manager_a)
    for _ in range(2):
        client.post(f"/fittings/answers/{concern.pk}/take/")
    client.post(f"/fittings/answers/{concern.pk}/signs/", {"signs": ["hot_joint"]})
    assert client.post(f"/fittings/answers/{concern.pk}/signs/", {"signs": []}).status_code == 400
    concern.refresh_from_db()
    assert (concern.owner, concern.stop_signs) == (cast.manager_a, ["hot_joint"])
    actions = AuditEntry.objects.filter(object_type="fittings.answerconcern").order_by("id")
    assert [entry.action.rsplit(".")[-1] for entry in actions] == ["opened", "taken_over", "signs_answered"]
    assert not AuditEntry.objects.filter(payload__icontains="hot_joint").exists()


def test_closing_without_what_was_done_is_refused_at_the_field(sign_in, cast, concern):
    client = sign_in(cast.fitter_a)
    for bad, field in (
        ({"outcome": "advised"}, "note"),
        ({"note": "x"}, "outcome"),
        (CLOSED | {"outcome": "x"}, "outcome"),
    ):
        page = client.post(f"/fittings/answers/{concern.pk}/close/", bad)
        assert page.status_code == 400
        assert set(page.context["close_form"].errors) == {field}
    given = {"actor": cast.fitter_a, "concern": concern}
    assert refused(concern_close, **given, outcome="x", note="y").fields.keys() == {"outcome"}
    assert refused(concern_close, **given, outcome="advised", note="\x00").fields.keys() == {"note"}
    assert refused(concern_signs_answer, **given, signs=["hunger"]).fields.keys() == {"stop_signs"}


def test_closed_twice_says_who_closed_it(sign_in, cast, concern):
    sign_in(cast.manager_a).post(f"/fittings/answers/{concern.pk}/close/", CLOSED)
    late = sign_in(cast.fitter_a).post(f"/fittings/answers/{concern.pk}/close/", CLOSED | {"note": "mine"})
    assert late.status_code == 409
    assert f"{cast.manager_a.display_name} closed this answer" in late.content.decode()
    concern.refresh_from_db()
    assert concern.note == CLOSED["note"]
    for call, given in ((concern_take_over, {}), (concern_signs_answer, {"signs": []})):
        assert refused(call, actor=cast.fitter_a, concern=concern, **given).code == "already_closed"


def test_other_stores_answer_is_not_there(sign_in, cast, concern):
    client = sign_in(cast.fitter_b)
    assert client.get(f"/fittings/answers/{concern.pk}/").status_code == 404
    for way in ("take", "signs", "close"):
        assert client.post(f"/fittings/answers/{concern.pk}/{way}/", CLOSED | {"signs": "calf"}).status_code == 404
    assert refused(concern_take_over, actor=cast.fitter_b, concern=concern).status == 404
    assert "No answer needs attention" in client.get("/fittings/answers/").content.decode()


def test_answer_goes_with_its_customer(cast, concern, fitting):
    privacy.customer_withdraw(actor=cast.fitter_a, customer=fitting.customer, reason="in-person")
    assert not AnswerConcern.objects.exists()
    assert refused(concern_close, actor=cast.fitter_a, concern=concern, **CLOSED).status == 404
    assert faults_of_fittings() == []
