"""Versions of the referral rules: one person drafts, another adopts, and past judgements stay."""

from __future__ import annotations

import datetime as dt

import pytest
from django.db import IntegrityError, transaction
from django.utils import timezone

from core.domain.errors import DomainError
from core.models import AuditEntry
from fittings.domain.fitting.intake import FollowUpAnswer
from fittings.domain.fitting.referral_rules import R1, own_signs_of, referral_to_data
from fittings.models import AnswerConcern, ReferralRules
from fittings.selectors.fitting.referral import current_referral_rules, referral_of_fitting, stop_sign_words
from fittings.services import follow_up_answer
from fittings.services.fitting.referral_rules import referral_rules_adopt, referral_rules_discard, referral_rules_draft

pytestmark = pytest.mark.usefixtures("db")


def data_of(**changes):
    return {name: value for name, value in referral_to_data(R1).items() if name != "version"} | changes


@pytest.fixture
def draft(cast):
    def make(version="R2", **changes):
        own = [{"code": sign.code, "words": sign.words} for sign in own_signs_of(["a rash"])]
        data = data_of(own_signs=own, **changes)
        return referral_rules_draft(actor=cast.office, version=version, data=data, reason="seen in our stores")

    return make


@pytest.fixture
def adopted(draft, cast):
    return referral_rules_adopt(actor=cast.manager_a, rules=draft(), reason="agreed")


def refused(call, **given):
    with pytest.raises(DomainError) as problem:
        call(**given)
    return problem.value


def test_every_installation_starts_with_the_standard_rules(cast):
    assert current_referral_rules().rules == R1


def test_author_cannot_adopt_and_a_manager_can(draft, cast):
    rules = draft()
    assert refused(referral_rules_adopt, actor=cast.office, rules=rules, reason="mine").code == "own_draft"
    referral_rules_adopt(actor=cast.manager_a, rules=rules, reason="agreed")
    assert current_referral_rules().rules.version == "R2"
    trail = AuditEntry.objects.filter(object_type="fittings.referralrules").order_by("id")
    assert [entry.action.rsplit(".")[-1] for entry in trail] == ["created", "drafted", "replaced", "adopted"]
    assert (trail.last().object_id, trail.last().content["reason"]) == (str(rules.pk), "agreed")


def test_database_holds_that_two_people_made_it(cast, draft):
    rules = draft()
    with pytest.raises(IntegrityError, match="two_people"), transaction.atomic():
        ReferralRules.objects.filter(pk=rules.pk).update(adopted_at=timezone.now(), adopted_by=cast.office)


@pytest.mark.parametrize("who", ["fitter_a", "technician", "reviewer"])
def test_others_change_nothing(who, cast, draft):
    rules, actor = draft(), cast.members()[who]
    assert refused(referral_rules_adopt, actor=actor, rules=rules, reason="mine").status == 403
    assert refused(referral_rules_discard, actor=actor, rules=rules, reason="mine").status == 403
    made = {"actor": actor, "version": "R3", "data": data_of(), "reason": "x"}
    assert refused(referral_rules_draft, **made).status == 403


def test_what_cannot_be_done(cast, draft, adopted):
    assert refused(referral_rules_adopt, actor=cast.manager_a, rules=adopted, reason="again").code == "already_current"
    assert refused(referral_rules_discard, actor=cast.office, rules=adopted, reason="no").code == "was_adopted"
    other = draft("R3")
    assert refused(referral_rules_adopt, actor=cast.manager_a, rules=other, reason=" ").code == "reason_required"
    referral_rules_discard(actor=cast.office, rules=other, reason="no use")
    referral_rules_discard(actor=cast.office, rules=other, reason="no use")
    assert refused(referral_rules_adopt, actor=cast.manager_a, rules=other, reason="late").status == 404
    bad = {"actor": cast.office, "version": "R4", "data": data_of(pain_now_from=11), "reason": "x"}
    assert "pain_now_from" in refused(referral_rules_draft, **bad).message


def test_own_sign_is_recorded_and_readable_after_it_is_gone(adopted, make_fitting, cast):
    fitting = make_fitting(stop_signs=("own_a_rash",))
    plain = referral_rules_draft(actor=cast.office, version="R3", data=data_of(), reason="not needed")
    referral_rules_adopt(actor=cast.manager_a, rules=plain, reason="agreed")
    fitting.refresh_from_db()
    assert stop_sign_words(fitting) == ["a rash"]
    assert "a rash" in referral_of_fitting(fitting).advice[0]
    assert refused(make_fitting, stop_signs=("own_a_rash",), name="Bea").fields.keys() == {"stop_signs"}


def test_fitting_and_answer_stay_as_they_were_judged(chosen, draft, cast):
    fitting = chosen(pain_now=4)
    strict = draft(pain_now_from=1, answer_pain_from=1, answer_days_off_from=1, look_after_days=5)
    referral_rules_adopt(actor=cast.manager_a, rules=strict, reason="careful")
    assert not referral_of_fitting(fitting).refer
    assert referral_of_fitting(chosen(pain_now=4, name="Bea")).refer
    first, second = fitting.follow_ups.order_by("due_on")[:2]
    follow_up_answer(actor=None, follow_up=first, answer=FollowUpAnswer(days_off=1))
    concern = AnswerConcern.objects.get()
    assert (concern.rules, concern.due_on - timezone.localdate()) == (strict, dt.timedelta(days=5))
    referral_rules_adopt(actor=cast.manager_a, rules=ReferralRules.objects.get(version="R1"), reason="back")
    follow_up_answer(actor=None, follow_up=second, answer=FollowUpAnswer(days_off=1))
    assert AnswerConcern.objects.count() == 1


def test_fitting_older_than_the_rules_is_referred_as_it_was(make_fitting):
    from fittings.models import Fitting

    pk = make_fitting(pain_now=6).pk
    Fitting.objects.filter(pk=pk).update(referral_advice=None, referral_rules=None)
    assert "given as 6 of 10" in referral_of_fitting(Fitting.objects.get(pk=pk)).advice[0]


def test_pages_of_the_rules(sign_in, cast, adopted, django_assert_max_num_queries):
    client = sign_in(cast.fitter_a)
    with django_assert_max_num_queries(12):
        text = client.get("/outcomes/referral-rules/").content.decode()
    assert "R2" in text
    assert "Ottawa ankle and foot rules" in text
    page = client.get(f"/outcomes/referral-rules/{adopted.pk}/").content.decode()
    assert "a rash" in page
    assert "from memory" not in text + page
    assert client.get("/outcomes/referral-rules/999999/").status_code == 404


def test_office_drafts_and_a_manager_adopts_on_the_pages(sign_in, cast):
    office = sign_in(cast.office)
    form = office.get("/outcomes/referral-rules/new/").context["form"]
    sent = {name: form[name].value() for name in form.fields} | {"version": "R2", "reason": "ours"}
    sent = {name: value for name, value in sent.items() if value not in (None, False)}
    bad = office.post("/outcomes/referral-rules/new/", sent | {"own_signs": "…", "version": "R1"})
    assert bad.status_code == 400
    assert set(bad.context["form"].errors) == {"version", "own_signs"}
    made = office.post("/outcomes/referral-rules/new/", sent | {"own_signs": "a rash\na tick bite"})
    rules = ReferralRules.objects.get(version="R2")
    assert made.headers["Location"] == f"/outcomes/referral-rules/{rules.pk}/"
    assert "so a second person must adopt it" in office.get(made.headers["Location"]).content.decode()
    assert office.post(f"/outcomes/referral-rules/{rules.pk}/adopt/", {"reason": "mine"}).status_code == 403
    manager = sign_in(cast.manager_a)
    assert manager.post(f"/outcomes/referral-rules/{rules.pk}/adopt/", {"reason": ""}).status_code == 400
    manager.post(f"/outcomes/referral-rules/{rules.pk}/adopt/", {"reason": "agreed"})
    assert [sign.words for sign in current_referral_rules().rules.own_signs] == ["a rash", "a tick bite"]
    office = sign_in(cast.office)
    discard = office.post("/outcomes/referral-rules/new/", sent | {"version": "R3"})
    office.post(f"{discard.headers['Location']}discard/", {"reason": "no use"})
    assert not ReferralRules.objects.filter(version="R3").exists()
