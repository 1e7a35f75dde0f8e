"""An API token says what it is for and when it was last used, on one's own page and to head office."""

from __future__ import annotations

import datetime as dt
import io

import pytest
from django.core.management import CommandError, call_command
from django.urls import reverse
from knox.models import AuthToken
from rest_framework.test import APIClient

from core.accounts import services as accounts
from core.accounts.authentication import NOTED_EVERY
from core.accounts.provisioning import token_issue
from core.audit import entries_of
from core.domain.errors import DomainError
from core.models import TokenNote
from core.web import display

pytestmark = pytest.mark.django_db


def use(token):
    client = APIClient()
    client.credentials(HTTP_AUTHORIZATION=f"Token {token}")
    assert client.get("/api/lab/bench/").status_code == 200


def test_label_is_kept_shown_and_in_the_trail(cast, client):
    accounts.token_make(actor=cast.technician, days=30, label=" rig computer 2 ")
    assert TokenNote.objects.get().label == "rig computer 2"
    assert "rig computer 2" in entries_of(cast.technician).first().content["reason"]
    client.force_login(cast.technician)
    page = client.get(reverse("core:account")).content.decode()
    assert "rig computer 2" in page
    assert 'data-label="Last used">never' in page


def test_use_is_noted_to_the_hour(cast, client):
    token = token_issue(actor=None, username="technician")
    use(token)
    note = TokenNote.objects.get()
    first = note.last_used_at
    use(token)
    note.refresh_from_db()
    assert note.last_used_at == first
    TokenNote.objects.update(last_used_at=first - NOTED_EVERY - dt.timedelta(minutes=1))
    use(token)
    note.refresh_from_db()
    assert note.last_used_at >= first
    client.force_login(cast.office)
    page = client.get(reverse("core:account-detail", args=[cast.technician.pk])).content.decode()
    assert f'data-label="Last used">{display.moment(note.last_used_at)}<' in page


def test_token_made_before_there_were_notes_works_and_gets_one(cast, client):
    _, token = AuthToken.objects.create(cast.technician)
    client.force_login(cast.technician)
    assert client.get(reverse("core:account")).status_code == 200
    use(token)
    assert TokenNote.objects.get().last_used_at is not None


def test_note_goes_with_its_token(cast):
    token_issue(actor=None, username="technician", label="old")
    row = AuthToken.objects.get()
    accounts.token_revoke(actor=cast.technician, user=cast.technician, digest=row.digest)
    assert not TokenNote.objects.exists()


@pytest.mark.parametrize("label", ["x" * 81, "a\x00b"])
def test_label_that_can_not_be_shown_is_refused(cast, label):
    with pytest.raises(DomainError):
        token_issue(actor=None, username="technician", label=label)


def test_command_takes_a_label(cast):
    call_command("issue_token", "technician", "--label", "nightly", stdout=io.StringIO())
    assert TokenNote.objects.get().label == "nightly"
    with pytest.raises(CommandError):
        call_command("issue_token", "technician", "--label", "x" * 81, stdout=io.StringIO())
