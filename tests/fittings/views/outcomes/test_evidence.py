"""The practice's own outcomes on the public page: two people decide, nothing small is shown, it can go."""

from __future__ import annotations

import re

import pytest
from django.db import IntegrityError, connection, transaction
from django.test.utils import CaptureQueriesContext
from django.urls import reverse

from core import audit
from core.audit import verification
from core.models import AuditEntry
from fittings.models import EvidenceRelease, ReleaseState
from fittings.presentation.outcomes.evidence import evidence_figures
from fittings.selectors.outcomes.outcomes import outcomes_for
from fittings.services.outcomes.evidence import evidence_propose, evidence_publish
from tests.fittings.many_people import make_people
from tests.people import person
from tests.shared import shared

PUBLIC, OFFICE = reverse("start:evidence"), reverse("outcomes:evidence")


@pytest.fixture
def second(cast):
    return person("office-2", "office")


@shared
def people(cast, make_shoe):
    return make_people(cast, make_shoe, 400, 7)


def text_of(response):
    return response.content.decode().replace("\u00a0", " ")


def propose(client, reason="enough people by now"):
    return client.post(OFFICE, {"propose-reason": reason})


def test_two_people_publish_what_head_office_sees(people, client, sign_in, cast, second):
    assert "Nothing is published at present" in text_of(client.get(PUBLIC))
    assert propose(sign_in(cast.office)).status_code == 302
    release = EvidenceRelease.objects.get()
    publish = reverse("outcomes:evidence-publish", args=[release.pk])
    assert sign_in(cast.office).post(publish).status_code == 403
    client.logout()
    assert "Nothing is published at present" in text_of(client.get(PUBLIC))
    assert sign_in(second).post(publish).status_code == 302
    client.logout()
    page = text_of(client.get(PUBLIC))
    assert "This is an association, not an effect." in page
    seen = evidence_figures(outcomes_for(cast.office))
    assert release.figures == seen
    for group in seen["groups"]:
        assert group["people"].replace("\u00a0", " ") in page
    inside = text_of(sign_in(cast.office).get("/outcomes/"))
    for group in (*seen["groups"], seen["total"]):
        assert group["rate"] in inside


def test_too_few_people_are_not_proposed(chosen, sign_in, cast):
    chosen()
    response = propose(sign_in(cast.office))
    assert response.status_code == 400
    assert "Nothing can be published yet." in text_of(response)
    assert not EvidenceRelease.objects.exists()


def test_public_page_reads_what_was_confirmed_and_no_table_of_people(people, cast, second, client):
    release = evidence_propose(actor=cast.office, reason="now", worded=evidence_figures)
    evidence_publish(actor=second, release=release)
    with CaptureQueriesContext(connection) as asked:
        page = text_of(client.get(PUBLIC))
    assert release.figures["n"].replace("\u00a0", " ") in page
    tables = {table for query in asked for table in re.findall(r"\bfittings_\w+", query["sql"])}
    assert tables == {"fittings_evidencerelease"}


def test_withdrawn_figures_are_gone_at_once(people, client, sign_in, cast, second):
    release = evidence_propose(actor=cast.office, reason="now", worded=evidence_figures)
    evidence_publish(actor=second, release=release)
    end = reverse("outcomes:evidence-withdraw", args=[release.pk])
    office = sign_in(cast.office)
    assert office.post(end, {"end-reason": " "}).status_code == 400
    assert office.post(end, {"end-reason": "an error in the follow-ups"}).status_code == 302
    assert "already withdrawn" in text_of(office.post(end, {"end-reason": "again"}))
    client.logout()
    page = text_of(client.get(PUBLIC))
    assert "Nothing is published at present" in page
    assert not re.search(r"95 %", page)
    actions = AuditEntry.objects.filter(object_type="fittings.evidencerelease").order_by("id")
    words = [entry.action.rpartition(".")[2] for entry in actions]
    assert words == ["proposed", "published", "withdrawn"]
    assert list(verification.record_faults(audit.kind_of(EvidenceRelease))) == []


def test_later_release_replaces_the_earlier_one(people, cast, second):
    first = evidence_publish(
        actor=second, release=evidence_propose(actor=cast.office, reason="one", worded=evidence_figures)
    )
    evidence_publish(actor=cast.office, release=evidence_propose(actor=second, reason="two", worded=evidence_figures))
    first.refresh_from_db()
    assert first.state == ReleaseState.REPLACED
    assert EvidenceRelease.objects.filter(state=ReleaseState.PUBLISHED).count() == 1


def test_second_proposal_waits_for_the_first(people, sign_in, cast):
    office = sign_in(cast.office)
    assert propose(office).status_code == 302
    response = propose(office)
    assert response.status_code == 400
    assert "A proposal is already waiting" in text_of(response)


def test_database_refuses_one_person_for_both(people, cast):
    release = evidence_propose(actor=cast.office, reason="now", worded=evidence_figures)
    with pytest.raises(IntegrityError), transaction.atomic():
        EvidenceRelease.objects.filter(pk=release.pk).update(
            state="published", confirmed_by=cast.office, confirmed_at=release.proposed_at
        )


@pytest.mark.parametrize("role", ["manager_a", "fitter_a", "reviewer"])
def test_others_do_not_decide(sign_in, cast, role):
    assert sign_in(getattr(cast, role)).get(OFFICE).status_code == 403
