"""The signed link: card and follow-up for the customer alone."""

from __future__ import annotations

import datetime as dt
import re

import pytest
from django.core import mail, signing
from django.urls import reverse
from django.utils import timezone

from core import audit
from core.audit.verification import faults
from core.models import AuditEntry
from fittings.domain.regions import place_words
from fittings.models import Customer, Fitting, FollowUp, PainReport
from fittings.models.people import new_nonce
from fittings.services import follow_up_reminders_send
from fittings.services.people.links import SALT, ask_token_for, stop_token_for, token_for


def ago(**span):
    return timezone.now() - dt.timedelta(**span)


def card_of(fitting):
    return reverse("customer:card", kwargs={"token": token_for(fitting)})


def answer_url(fitting):
    return reverse("customer:answer", kwargs={"token": token_for(fitting)})


def answers(fitting, **changes):
    due = fitting.follow_ups.filter(due_on__lte=timezone.localdate()).order_by("-due_on").first()
    return {
        "follow_up": due.pk if due else "",
        "wearing": "yes",
        "comfort": "8",
        "distance_km_week": "25",
        "pain-0-region": "heel",
        "pain-0-side": "left",
        "pain-0-score": "3",
        "overuse_1": "8",
        "overuse_2": "0",
        "overuse_3": "0",
        "overuse_4": "8",
        "days_off": "0",
    } | changes


def test_card_shows_need_shoe_and_cautions_and_stays_private(client, chosen, django_assert_max_num_queries):
    fitting = chosen()
    url = card_of(fitting)
    # One of them for the reply of a clinician, one for the looks in motion.
    with django_assert_max_num_queries(11):
        page = client.get(url)
    text = page.content.decode()
    assert page.status_code == 200
    assert "59.0 to 71.0" in text
    assert "in-target" in text
    assert "Not a diagnosis" in text
    assert "How are your shoes?" not in text
    assert page.headers["X-Robots-Tag"] == "noindex, nofollow"
    assert page.headers["Referrer-Policy"] == "same-origin"
    assert "no-store" in page.headers["Cache-Control"]
    assert "Ada" not in url


def test_due_follow_up_is_asked_and_answered_once(client, chosen):
    fitting = chosen(at=ago(weeks=3))
    page = client.get(card_of(fitting)).content.decode()
    assert "How are your shoes?" in page
    first = client.post(answer_url(fitting), answers(fitting))
    assert first.status_code == 200
    assert "Thank you for your answers." in first.content.decode()
    again = client.post(answer_url(fitting), answers(fitting))
    assert "We have your answers." in again.content.decode()
    kept = FollowUp.objects.answered().get()
    assert (kept.weeks, kept.overuse_total, kept.comfort, kept.wearing) == (2, 16, 8, True)
    assert PainReport.objects.get().region == "heel"
    assert "How are your shoes?" not in client.get(card_of(fitting)).content.decode()


def test_newest_due_follow_up_is_asked_and_missed_ones_are_not(client, chosen):
    fitting = chosen(at=ago(weeks=7))
    assert "6 weeks ago" in client.get(card_of(fitting)).content.decode()
    client.post(answer_url(fitting), answers(fitting))
    assert FollowUp.objects.answered().get().weeks == 6
    assert "How are your shoes?" not in client.get(card_of(fitting)).content.decode()


@pytest.mark.parametrize(
    ("change", "words"),
    [
        ({"overuse_2": "13"}, "not one of the choices"),
        ({"overuse_2": ""}, "Answer all four"),
        ({"comfort": "11"}, "not one of the choices"),
        ({"distance_km_week": "-4"}, "Write a number from 0 to 1000."),
        ({"distance_km_week": "nan"}, "Write a number from 0 to 1000."),
        ({"days_off": "9999"}, "Write a whole number from 0 to 366."),
        ({"pain-1-score": "4", "pain-1-region": ""}, "Say where it hurts"),
        ({"nothing_hurts": "yes"}, "Nothing hurts, but a place has a pain score"),
        ({"pain-0-region": "tail"}, "not one of the choices"),
        ({"pain-0-score": "\x00"}, "not one of the choices"),
    ],
)
def test_bad_answer_comes_back_with_its_problem(client, chosen, change, words):
    fitting = chosen(at=ago(weeks=3))
    page = client.post(answer_url(fitting), answers(fitting, **change))
    assert page.status_code == 400
    assert words in page.content.decode()
    assert FollowUp.objects.answered().count() == 0


def test_form_sent_empty_comes_back(client, chosen):
    fitting = chosen(at=ago(weeks=3))
    page = client.post(answer_url(fitting), {"follow_up": answers(fitting)["follow_up"]})
    assert page.status_code == 400
    assert "Answer at least one of the questions." in page.content.decode()
    assert FollowUp.objects.answered().count() == 0


@pytest.mark.parametrize(
    ("said", "free"), [({}, None), ({"nothing_hurts": ""}, None), ({"nothing_hurts": "yes"}, True)]
)
def test_one_answer_is_enough_and_only_nothing_hurts_says_so(client, chosen, said, free):
    fitting = chosen(at=ago(weeks=3))
    page = client.post(answer_url(fitting), {"follow_up": answers(fitting)["follow_up"], "comfort": "0"} | said)
    assert page.status_code == 200
    kept = FollowUp.objects.answered().get()
    assert (kept.free_of_complaints, kept.nothing_hurts) == (free, free)
    assert 'role="alert"' not in page.content.decode()


def test_advice_is_shown_at_once(client, chosen):
    fitting = chosen(at=ago(weeks=3))
    page = client.post(answer_url(fitting), answers(fitting, days_off="9")).content.decode()
    assert "on 9 days" in page
    assert "Please see a licensed clinician" in page
    assert "Not a diagnosis" in page


@pytest.mark.parametrize("method", ["get", "post"])
def test_wrong_link_is_not_found(client, db, method):
    name = "customer:card" if method == "get" else "customer:answer"
    for token in (
        "nonsense",
        signing.dumps(1, salt="other"),
        signing.dumps("1", salt=SALT),
        signing.dumps(10**30, salt=SALT),
        "a:b:c",
    ):
        page = getattr(client, method)(reverse(name, kwargs={"token": token}))
        assert page.status_code == 404
        assert "not one of ours" in page.content.decode()


def test_changed_link_is_not_found(client, chosen):
    one, other = chosen(), chosen(name="Bea")
    value, *signature = token_for(one).split(":")
    forged = ":".join([token_for(other).split(":")[0], *signature])
    assert value != forged.split(":")[0]
    assert client.get(reverse("customer:card", kwargs={"token": forged})).status_code == 404


def test_old_link_has_run_out(client, chosen, settings, monkeypatch):
    url = card_of(chosen())
    settings.SIGNED_LINK_MAX_AGE_DAYS = 1
    real = signing.time.time
    monkeypatch.setattr(signing.time, "time", lambda: real() + 2 * 86_400)
    page = client.get(url)
    assert page.status_code == 410
    assert "run out" in page.content.decode()


def test_link_of_a_fitting_not_kept_opens_nothing(client, make_fitting):
    assert client.get(card_of(make_fitting(consent=False))).status_code == 404


def test_address_of_the_answers_opened_again_leads_to_the_page(client, chosen):
    token = token_for(chosen())
    answer = client.get(f"/f/{token}/answer/")
    assert answer.status_code == 302
    assert client.get(answer.url).status_code == 200
    assert client.get(client.get("/f/forged/answer/").url).status_code == 404


def test_number_that_somebody_else_has_now_opens_nothing(client, chosen):
    fitting = chosen(at=ago(weeks=3))
    address, stop = card_of(fitting), f"/f/{stop_token_for(fitting.customer)}/unsubscribe/"
    # As after a restore: other rows, with the numbers of these.
    Fitting.objects.update(link_nonce=new_nonce())
    Customer.objects.update(link_nonce=new_nonce())
    assert client.get(address).status_code == 410
    assert client.post(address + "answer/", answers(fitting)).status_code == 410
    assert client.post(stop).status_code == 410
    assert not FollowUp.objects.answered().exists()
    assert client.get(card_of(Fitting.objects.get())).status_code == 200


def test_link_from_before_the_nonces_opens_its_own_fitting_alone(client, chosen):
    fitting = chosen()
    address = f"/f/{signing.dumps(fitting.pk, salt=SALT)}/"
    assert client.get(address).status_code == 410
    Fitting.objects.update(link_nonce="")
    assert client.get(address).status_code == 200


def test_staff_end_the_links_of_a_fitting(client, chosen, sign_in, cast):
    fitting = chosen()
    address = card_of(fitting)
    end = f"/fittings/{fitting.pk}/links/end/"
    assert sign_in(cast.fitter_b).post(end).status_code == 404
    assert client.get(address).status_code == 200
    assert sign_in(cast.fitter_a).post(end).status_code == 302
    page = client.get(address)
    assert page.status_code == 410
    assert "no longer works" in page.content.decode()
    fitting.refresh_from_db()
    assert client.get(card_of(fitting)).status_code == 200
    assert audit.entries_of(fitting).first().action == "fittings.link.revoked"


def test_program_ends_the_links_of_a_fitting_and_gets_the_new_one(client, chosen, api_for, cast):
    fitting = chosen()
    address, end = card_of(fitting), f"/api/fittings/{fitting.pk}/links/end/"
    assert api_for(cast.fitter_b).post(end).status_code == 404
    assert api_for(cast.office).post(end).status_code == 403
    assert api_for(cast.fitter_a).post(end, {"all": True}, format="json").json()["fields"].keys() == {"all"}
    assert client.get(address).status_code == 200
    ended = api_for(cast.fitter_a).post(end)
    assert (ended.status_code, ended.json()["fitting"]) == (200, fitting.pk)
    assert client.get(address).status_code == 410
    assert client.get("/" + ended.json()["card"].split("/", 3)[3]).status_code == 200
    assert audit.entries_of(fitting).first().action == "fittings.link.revoked"


def test_ended_links_stop_no_e_mails_and_the_next_e_mail_has_one_that_does(client, chosen, sign_in, api_for, cast):
    fitting, other = chosen(at=ago(weeks=2)), chosen(name="Bea", email="bea@example.org")
    printed, unsubscribe = card_of(fitting), stop_of(fitting)
    of_another = stop_of(other)
    assert client.get(unsubscribe).status_code == 200
    end, fitter = f"/fittings/{fitting.pk}/links/end/", sign_in(cast.fitter_a)
    said = fitter.post(end, follow=True).content.decode()
    assert "nor do those that stop e-mails" in said
    assert "Wants no more e-mails" in said
    # It was open in a browser, or is in the hands of a mail program.
    for refused in (client.get(unsubscribe), client.post(unsubscribe), client.get(printed)):
        assert refused.status_code == 410
        assert "This link is not valid" in refused.content.decode()
    assert "ask your store to stop its e-mails" in client.get(unsubscribe).content.decode()
    assert not Customer.objects.filter(mail_stopped_at__isnull=False).exists()
    assert client.get(of_another).status_code == 200
    assert audit.entries_of(fitting.customer).first().action == "fittings.customer.links_revoked"
    assert [fault for fault in faults() if fault.where.startswith(("customer", "fitting"))] == []
    follow_up_reminders_send()
    sent = re.search(r"https?://[^/]+(/f/\S+)", mail.outbox[0].extra_headers["List-Unsubscribe"]).group(1)[:-1]
    assert client.post(sent).status_code == 200
    assert Customer.objects.get(mail_stopped_at__isnull=False) == fitting.customer
    assert api_for(cast.fitter_a).post(f"/api/fittings/{fitting.pk}/links/end/").status_code == 200
    assert client.get(sent).status_code == 410


def stop_of(fitting):
    return reverse("customer:mail-stop", kwargs={"token": stop_token_for(fitting.customer)})


def test_signed_in_staff_answer_in_their_own_name(chosen, sign_in, cast):
    fitting = chosen(at=ago(weeks=3))
    assert "You are signed in as" in sign_in(cast.fitter_a).get(card_of(fitting)).content.decode()
    assert sign_in(cast.fitter_b).post(answer_url(fitting), answers(fitting)).status_code == 403
    assert sign_in(cast.technician).post(answer_url(fitting), answers(fitting)).status_code == 403
    assert not FollowUp.objects.answered().exists()
    assert sign_in(cast.fitter_a).post(answer_url(fitting), answers(fitting)).status_code == 200
    assert FollowUp.objects.answered().get().answered_by == cast.fitter_a


def test_trail_has_no_address_of_a_customer(client, chosen):
    fitting = chosen(at=ago(weeks=3))
    client.post(answer_url(fitting), answers(fitting), REMOTE_ADDR="192.0.2.77")
    client.post(f"/f/{stop_token_for(fitting.customer)}/unsubscribe/", REMOTE_ADDR="192.0.2.77")
    sources = {entry.action: entry.content["source"] for entry in AuditEntry.objects.all()}
    for action in ("fittings.follow_up.answered", "fittings.customer.mail_stopped"):
        assert (sources[action]["kind"], sources[action]["where"]) == ("page", "")


def names_the_place(response) -> bool:
    """Whether the page has the place as the label of a score; the choices of a place to name have other words."""
    label = place_words("heel", "left").capitalize()
    return bool(re.search(rf">{re.escape(label)}\s*<", response.content.decode()))


def asked(fitting):
    return reverse("customer:card", kwargs={"token": ask_token_for(fitting)})


def test_link_of_an_email_names_no_place_of_complaint(client, chosen):
    fitting = chosen(at=ago(weeks=3))
    assert names_the_place(client.get(card_of(fitting)))
    asked_page = client.get(asked(fitting))
    assert not names_the_place(asked_page)
    page = asked_page.content.decode()
    assert "How are your shoes?" in page
    assert "Name each place that hurts" in page
    assert not re.search(r'<option value="(heel|left)" selected|name="pain-\d-(region|side)" value', page)
    # How many there are is not shown either.
    other = chosen(at=ago(weeks=3), name="Bea", history=())
    assert client.get(asked(other)).content.decode().count('name="pain-') == page.count('name="pain-')


def test_answer_by_the_link_of_an_email_is_about_the_place_on_record(client, chosen):
    """The customer names the places; what is on record is judged as ever."""
    fitting = chosen(at=ago(weeks=3))
    given = answers(fitting) | {"pain-2-region": "knee", "pain-2-side": "right", "pain-2-score": "1"}
    page = client.post(asked(fitting) + "answer/", given)
    assert page.status_code == 200
    assert FollowUp.objects.answered().get().recurrence
    assert set(PainReport.objects.values_list("region", "side")) == {("heel", "left"), ("knee", "right")}
    refused = chosen(at=ago(weeks=3), name="Bea")
    wrong = client.post(asked(refused) + "answer/", answers(refused, comfort="11"))
    assert wrong.status_code == 400
    assert not names_the_place(wrong)


def test_staff_who_open_the_link_of_an_email_see_the_places(chosen, sign_in, cast):
    fitting = chosen(at=ago(weeks=3))
    assert names_the_place(sign_in(cast.fitter_a).get(asked(fitting)))
    assert not names_the_place(sign_in(cast.fitter_b).get(asked(fitting)))
