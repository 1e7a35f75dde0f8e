"""Unfinished fittings that nobody goes on with: told how long they are kept, removed after it, others spared."""

from __future__ import annotations

import datetime as dt
import uuid

import pytest
from django.core.management import call_command
from django.utils import timezone

from core.models import AuditEntry
from fittings.domain.fitting.intake import CustomerIntake
from fittings.models import Consent, Customer, Draft, DraftSection
from fittings.services import person_save, section_save
from fittings.services.fitting.draft import Stamp, Whom, drafts_expire
from tests.fittings.services.people.test_privacy_requests import faults_of_fittings

pytestmark = pytest.mark.usefixtures("db")


@pytest.fixture(autouse=True)
def _fourteen_days(settings):
    settings.DRAFT_RETENTION_DAYS = 14


@pytest.fixture
def begun(cast):
    """Return a function that begins a fitting of somebody, with their feet measured; answers its key."""

    def make(name, known=None):
        key, person = uuid.uuid4(), CustomerIntake(name, f"{name.lower()}@example.org", consent=True)
        person_save(actor=cast.fitter_a, store=cast.store_a, key=key, whom=Whom(person, known), stamp=Stamp())
        section_save(actor=cast.fitter_a, key=key, name="feet", content={"foot-left-length_mm": "262"}, stamp=Stamp())
        return key

    return make


def in_days(days):
    return timezone.now() + dt.timedelta(days=days)


def test_left_lying_for_longer_goes_with_the_person_made_for_it(begun):
    begun("Lying")
    assert drafts_expire(at=in_days(13)) == 0
    assert drafts_expire(at=in_days(15)) == 1
    for model in (Draft, DraftSection, Customer, Consent):
        assert not model.objects.exists(), model
    assert drafts_expire(at=in_days(15)) == 0


def test_touched_again_stays_and_known_people_stay(begun, make_fitting, cast):
    known = make_fitting().customer
    begun("Known", known=known.pk)
    later = begun("Later")
    Draft.objects.filter(pk=later).update(saved_at=in_days(10))
    assert drafts_expire(at=in_days(15)) == 1
    assert Draft.objects.get().pk == later
    assert Customer.objects.filter(pk=known.pk).exists()


def test_trail_says_that_nobody_went_on_and_holds_no_name(begun):
    key = begun("Lying")
    drafts_expire(at=in_days(15))
    entry = AuditEntry.objects.get(action="fittings.draft.expired")
    assert (entry.object_id, entry.actor, entry.content["after"]) == (str(key), None, None)
    assert not AuditEntry.objects.filter(payload__icontains="lying").exists()
    assert faults_of_fittings() == []


def test_daily_job_removes_them_and_says_so(begun, capsys):
    old, fresh = begun("Old"), begun("Fresh")
    Draft.objects.filter(pk=old).update(saved_at=in_days(-20))
    call_command("apply_retention")
    told = capsys.readouterr().out
    assert f"removed unfinished fitting {old}" in told
    assert "1 unfinished fittings removed: nobody touched them for 14 days." in told
    assert Draft.objects.get().pk == fresh


def test_pages_say_until_when(begun, sign_in, cast):
    from core.web.display import day

    key = begun("Waiting")
    until = day(timezone.localdate(in_days(14)))
    client = sign_in(cast.fitter_a)
    assert f"Deleted after {until}" in client.get("/fittings/").content.decode()
    assert f"deleted after {until}" in client.get(f"/fittings/drafts/{key}/").content.decode()
