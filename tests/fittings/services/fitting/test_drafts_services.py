"""Unfinished fittings: nothing before consent, nothing overwritten, nothing twice, nothing left behind."""

from __future__ import annotations

import uuid

import pytest
from django.db import IntegrityError

from core.audit import record_kinds, verification
from core.domain.errors import DomainError
from core.gate.access import Role
from core.models import AuditEntry, Membership, User
from fittings.domain.fitting.intake import CustomerIntake, FittingIntake
from fittings.models import Choice, Consent, Customer, Draft, DraftSection, Fitting, FollowUp, TryOn
from fittings.services import draft_discard, draft_finish, person_save, section_save
from fittings.services.fitting.draft import Chosen, Finished, NotKeptYet, SectionChanged, Stamp, TriedOn, Whom

ADA = CustomerIntake("Ada Example", "ada@example.org", True, "01 234 567")
FEET = {"foot-left-length_mm": "262"}


@pytest.fixture
def colleague(cast):
    user = User.objects.create(username="fitter-a2")
    Membership.objects.create(user=user, role=Role.FITTER, store=cast.store_a)
    return user


@pytest.fixture
def begun(cast):
    """Return a function that begins a fitting by saving who the customer is; answers its key."""

    def make(person=ADA, known=None, key=None, actor=None, stamp=None):
        key = key or uuid.uuid4()
        person_save(
            actor=actor or cast.fitter_a,
            store=cast.store_a,
            key=key,
            whom=Whom(person, known),
            stamp=stamp or Stamp(),
        )
        return key

    return make


def save(actor, key, content=None, *, name="feet", **stamp):
    return section_save(
        actor=actor, key=key, name=name, content=FEET if content is None else content, stamp=Stamp(**stamp)
    )


def finish(cast, key, *, actor=None, tried=(), chosen=None, intake=None):
    versions = dict(DraftSection.objects.filter(draft=key).values_list("name", "version"))
    return draft_finish(
        actor=actor or cast.fitter_a,
        key=key,
        intake=intake or FittingIntake(use="running", stop_signs_asked=True),
        tried=tried,
        chosen=chosen,
        versions=versions,
    )


def test_before_consent_nothing_is_kept(cast, begun):
    with pytest.raises(NotKeptYet):
        begun(CustomerIntake("Ada", "ada@example.org", False))
    with pytest.raises(NotKeptYet):
        save(cast.fitter_a, uuid.uuid4())
    assert not Draft.objects.exists()
    assert not Customer.objects.exists()


def test_the_database_itself_keeps_no_draft_without_a_customer(cast, begun):
    begun()
    with pytest.raises(IntegrityError):
        Draft.objects.update(customer=None)


def test_saving_begins_the_fitting_and_records_the_consent(cast, begun):
    key = begun()
    draft = Draft.objects.get(pk=key)
    assert (draft.store, draft.started_by, draft.made_customer) == (cast.store_a, cast.fitter_a, True)
    assert (draft.customer.name, draft.customer.phone) == ("Ada Example", "01 234 567")
    assert Consent.objects.get().customer == draft.customer


def test_beginning_twice_is_once(cast, begun):
    key = begun()
    begun(key=key)
    assert Draft.objects.count() == Customer.objects.count() == 1
    assert AuditEntry.objects.filter(action="fittings.draft.section_saved").count() == 0


def test_known_customer_is_found_and_keeps_the_consent(cast, begun, make_fitting):
    known = make_fitting().customer
    key = begun(CustomerIntake(consent=True), known=known.pk)
    draft = Draft.objects.get(pk=key)
    assert (draft.customer, draft.made_customer) == (known, False)
    assert Consent.objects.count() == 1


def test_customer_of_another_store_is_refused_like_none(cast, begun, make_fitting):
    other = make_fitting(actor=cast.fitter_b, store=cast.store_b).customer
    for known in (other.pk, 999_999):
        with pytest.raises(DomainError, match="not on record at your store") as refused:
            begun(CustomerIntake(consent=True), known=known)
        assert "customer.known" in refused.value.fields


def test_bad_person_is_refused_by_field(cast, begun):
    with pytest.raises(DomainError) as refused:
        begun(CustomerIntake("", "nowhere", True, "call me"))
    assert set(refused.value.fields) == {"customer.name", "customer.email", "customer.phone"}
    assert not Draft.objects.exists()


def test_another_name_corrects_a_customer_made_here_and_leaves_no_other(cast, begun):
    key = begun()
    begun(CustomerIntake("Ada Exemple", "ada@example.org", True), key=key, stamp=Stamp(version=1))
    assert Customer.objects.get().name == "Ada Exemple"


def test_somebody_known_instead_takes_the_made_one_away(cast, begun, make_fitting):
    known = make_fitting(name="Bea Known", email="bea@example.org").customer
    key = begun()
    begun(CustomerIntake(consent=True), known=known.pk, key=key, stamp=Stamp(version=1))
    assert Customer.objects.get() == known
    assert Draft.objects.get(pk=key).made_customer is False


def test_the_same_content_again_leaves_no_entry(cast, begun):
    key = begun()
    assert save(cast.fitter_a, key).version == 1
    assert save(cast.fitter_a, key).version == 1
    assert save(cast.fitter_a, key, {"foot-left-length_mm": "263"}, version=1).version == 2
    entries = AuditEntry.objects.filter(action="fittings.draft.section_saved")
    assert entries.count() == 2
    assert {entry.content["reason"] for entry in entries} == {"feet"}


def test_colleague_goes_on_and_the_trail_says_who(cast, begun, colleague):
    key = begun()
    save(colleague, key)
    draft = Draft.objects.get(pk=key)
    assert (draft.started_by, draft.saved_by) == (cast.fitter_a, colleague)


def test_what_somebody_else_saved_is_not_written_over(cast, begun, colleague):
    key = begun()
    save(cast.fitter_a, key)
    save(colleague, key, {"foot-left-length_mm": "270"}, version=1)
    with pytest.raises(SectionChanged, match="fitter-a2 saved this section") as refused:
        save(cast.fitter_a, key, {"foot-left-length_mm": "265"}, version=1)
    assert refused.value.theirs.version == 2
    assert DraftSection.objects.get(name="feet").content == {"foot-left-length_mm": "270"}
    # Knowing it, one may.
    assert save(cast.fitter_a, key, {"foot-left-length_mm": "265"}, version=2).version == 3


def test_answer_that_got_lost_is_no_conflict_with_oneself(cast, begun):
    key, page = begun(), uuid.uuid4()
    save(cast.fitter_a, key, page=page, edit=1)
    again = save(cast.fitter_a, key, {"foot-left-length_mm": "263"}, page=page, edit=2)
    assert again.version == 2


def test_an_earlier_change_that_arrives_late_is_passed_by(cast, begun):
    key, page = begun(), uuid.uuid4()
    save(cast.fitter_a, key, {"foot-left-length_mm": "263"}, page=page, edit=2)
    late = save(cast.fitter_a, key, page=page, edit=1)
    assert late.content == {"foot-left-length_mm": "263"}


def test_other_store_gets_nothing_and_saves_nothing(cast, begun):
    key = begun()
    for attempt in (
        lambda: save(cast.fitter_b, key),
        lambda: begun(key=key, actor=cast.fitter_b),
        lambda: draft_discard(actor=cast.fitter_b, key=key),
        lambda: finish(cast, key, actor=cast.fitter_b),
    ):
        with pytest.raises(DomainError) as refused:
            attempt()
        assert refused.value.status == 404
    assert Draft.objects.get(pk=key).sections.count() == 1


def test_discarding_leaves_nothing_of_the_person(cast, begun):
    key = begun()
    save(cast.fitter_a, key)
    draft_discard(actor=cast.fitter_a, key=key)
    draft_discard(actor=cast.fitter_a, key=key)
    for model in (Draft, DraftSection, Customer, Consent, Fitting):
        assert not model.objects.exists(), model


def test_discarding_keeps_a_customer_who_was_known(cast, begun, make_fitting):
    known = make_fitting().customer
    draft_discard(actor=cast.fitter_a, key=begun(CustomerIntake(consent=True), known=known.pk))
    assert Customer.objects.get() == known


def test_finishing_makes_fitting_try_ons_choice_and_follow_ups_once(cast, begun, make_shoe):
    make_shoe("one", 45.0)
    make_shoe("two", 46.0)
    key = begun()
    save(cast.fitter_a, key)
    tried = (TriedOn(0, "one", "42", 5), TriedOn(2, "two", "EU 42.5", 8))
    fitting = finish(cast, key, tried=tried, chosen=Chosen(2))
    assert (fitting.kept, fitting.submission, fitting.customer.name) == (True, key, "Ada Example")
    assert TryOn.objects.count() == 2
    assert (Choice.objects.get().shoe.slug, Choice.objects.get().comfort) == ("two", 8)
    assert FollowUp.objects.count() == 5
    assert not Draft.objects.exists()
    assert not DraftSection.objects.exists()
    with pytest.raises(Finished) as again:
        finish(cast, key)
    assert again.value.fitting == fitting
    with pytest.raises(Finished):
        save(cast.fitter_a, key)
    assert Fitting.objects.count() == 1


def test_refused_finish_changes_nothing_and_names_the_field(cast, begun, make_shoe):
    make_shoe("outside", 80.0)
    key = begun()
    with pytest.raises(DomainError, match="give a reason") as refused:
        finish(cast, key, tried=(TriedOn(3, "outside", "42"),), chosen=Chosen(3))
    assert list(refused.value.fields) == ["choice.reason"]
    with pytest.raises(DomainError) as refused:
        finish(cast, key, tried=(TriedOn(3, "no-such", "42"),))
    assert list(refused.value.fields) == ["try-3.slug"]
    assert not Fitting.objects.exists()
    assert Draft.objects.filter(pk=key).exists()


def test_section_saved_at_the_last_moment_stops_the_finish(cast, begun, colleague):
    key = begun()
    versions = {"person": 1}
    save(colleague, key)
    with pytest.raises(DomainError, match="A colleague has just saved a section"):
        draft_finish(
            actor=cast.fitter_a,
            key=key,
            intake=FittingIntake(use="running", stop_signs_asked=True),
            tried=(),
            chosen=None,
            versions=versions,
        )


def test_the_trail_agrees_and_holds_not_a_word_of_the_person(cast, begun):
    key = begun(CustomerIntake("Very Private", "very.private@example.org", True, "0999 888 777"))
    save(cast.fitter_a, key, {"intake-body_mass_kg": "97.25", "history-0-region": "inner_shin"}, name="intake")
    other = begun()
    finish(cast, key)
    draft_discard(actor=cast.fitter_a, key=other)
    begun()
    standard = ["fittings.need_rules.created", "fittings.referral_rules.created"]
    trail = AuditEntry.objects.filter(action__startswith="fittings.").exclude(action__in=standard)
    payloads = "".join(trail.values_list("payload", flat=True)).lower()
    for private in ("private", "97.25", "shin", "0999 888"):
        assert private not in payloads, private
    kinds = [kind for kind in record_kinds() if kind.model._meta.app_label == "fittings"]
    assert [str(fault) for kind in kinds for fault in verification.record_faults(kind)] == []


def test_a_section_costs_few_queries(cast, begun, django_assert_max_num_queries):
    key = begun()
    actor = User.objects.get(pk=cast.fitter_a.pk)
    with django_assert_max_num_queries(13):
        save(actor, key)
