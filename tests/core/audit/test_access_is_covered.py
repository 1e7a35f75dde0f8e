"""Whoever has the application's database password cannot let somebody in without `verify_audit` finding it."""

from __future__ import annotations

import datetime as dt
import json

import pytest
from django.db import transaction
from django.test import Client
from django.urls import reverse
from django.utils import timezone
from django_otp.plugins.otp_static.models import StaticDevice, StaticToken
from django_otp.plugins.otp_totp.models import TOTPDevice
from knox.models import AuthToken
from rest_framework.test import APIClient

from core import audit
from core.accounts import second_factor
from core.accounts import services as accounts
from core.accounts.covering import accounts_cover
from core.audit import digests, verification
from core.audit.coverage import coverage
from core.gate.token_scopes import TokenScope
from core.models import AuditEntry, DigestSalt, SealedDevice, TokenNote, User
from tests.labtests.audit.test_audit_every_column import as_administrator

KIND = audit.kind_of(User)


def faults():
    return [str(fault) for fault in verification.record_faults(KIND)]


@pytest.fixture
def account(people, code_of):
    """A reviewer with a second factor, ten recovery codes, and two API tokens of the narrowest scope."""
    user = people.reviewer
    second_factor.second_factor_begin(actor=user)
    device = second_factor.device_of(user, confirmed=False)
    user.recovery_codes = second_factor.second_factor_confirm(actor=user, code=code_of(device))
    user.tokens = [accounts.token_make(actor=user, days=30, label="rig", scope=TokenScope.READ) for _ in range(2)]
    assert faults() == []
    return user


def insert_token(user):
    AuthToken.objects.create(user)


def swap_secret(user):
    TOTPDevice.objects.update(key=SealedDevice.new_key(user, b"known to the intruder"))


def add_device(user):
    SealedDevice.objects.create(user=user, key=SealedDevice.new_key(user), confirmed=True)


def add_recovery_code(user):
    StaticToken.objects.create(device=StaticDevice.objects.get(user=user), token="abcdefgh23456789")


CHANGES = {
    "token inserted": insert_token,
    "token valid for longer": lambda _: AuthToken.objects.update(expiry=timezone.now() + dt.timedelta(days=3000)),
    "token younger": lambda _: AuthToken.objects.update(created=timezone.now()),
    "token of somebody else": lambda user: AuthToken.objects.update(user=User.objects.exclude(pk=user.pk).first()),
    "token removed": lambda _: AuthToken.objects.first().delete(),
    "scope widened": lambda _: TokenNote.objects.update(scope=TokenScope.FULL),
    "scope removed": lambda _: TokenNote.objects.all().delete(),
    "secret swapped": swap_secret,
    "device inserted": add_device,
    "device removed": lambda _: TOTPDevice.objects.all().delete(),
    "any code of two weeks": lambda _: TOTPDevice.objects.update(tolerance=30_000),
    "codes of one digit": lambda _: TOTPDevice.objects.update(digits=1),
    "recovery code inserted": add_recovery_code,
    "recovery code removed": lambda _: StaticToken.objects.first().delete(),
}


class _UndoError(Exception):
    """Rolls a change back."""


def faults_after(change, user):
    try:
        with transaction.atomic():
            change(user)
            found = faults()
            raise _UndoError
    except _UndoError:
        return found


def test_every_change_by_the_application_role_is_found(account):
    words = f"user {account.pk}: differs from the digest in audit entry"
    found = {name: faults_after(change, account) for name, change in CHANGES.items()}
    assert [name for name, lines in found.items() if not any(line.startswith(words) for line in lines)] == []
    assert faults() == []


def test_token_for_an_account_that_never_had_one_is_found(people):
    assert faults() == []
    insert_token(people.office)
    assert [fault.partition(":")[0] for fault in faults()] == [f"user {people.office.pk}"]


def test_what_a_use_writes_needs_no_entry(account, give_password):
    """Last use of a token, wrong codes, and a token that has expired."""
    entries = AuditEntry.objects.count()
    client = APIClient()
    client.credentials(HTTP_AUTHORIZATION=f"Token {account.tokens[0]}")
    assert client.get("/api/lab/bench/").status_code == 200
    assert TokenNote.objects.filter(last_used_at__isnull=False).count() == 1
    half_way = Client()
    give_password("reviewer", client=half_way)
    half_way.post(reverse("core:second-step"), {"code": "aaaa-bbbb-cccc-dddd"})
    assert StaticDevice.objects.get().throttling_failure_count == 1
    assert AuditEntry.objects.count() == entries
    assert faults() == []


def test_expired_token_is_refused_and_leaves_with_the_next_entry(account, people):
    accounts.token_make(actor=account, days=0)
    assert AuthToken.objects.count() == 3
    client = APIClient()
    client.credentials(HTTP_AUTHORIZATION=f"Token {account.tokens[0]}")
    assert client.get("/api/lab/bench/").status_code == 200
    assert faults() == []
    accounts.token_make(actor=account, days=30)
    assert AuthToken.objects.filter(expiry__lt=timezone.now()).count() == 0
    assert AuthToken.objects.count() == 3
    assert faults() == []


def test_used_recovery_code_is_in_the_trail(account, give_password):
    client = Client()
    give_password("reviewer", client=client)
    assert client.post(reverse("core:second-step"), {"code": account.recovery_codes[0]}).status_code == 302
    assert audit.entries_of(account).first().action == "core.second_factor.code_used"
    assert faults() == []


def as_before_the_upgrade(user):
    """Give the account's last entry a digest of the first version, as earlier programs wrote it."""
    _, private = audit.records.whole_records(KIND, [user.pk])
    salt = bytes(DigestSalt.objects.get(object_type="core.user", object_id=str(user.pk)).salt)
    earlier = digests.digest(salt, digests.contents(KIND, private, 1)[user.pk])
    entry = audit.entries_of(user).first()
    with as_administrator() as cursor:
        payload = json.dumps(entry.content | {"digest": earlier})
        cursor.execute("UPDATE core_auditentry SET payload = %s WHERE id = %s", [payload, entry.pk])


def test_upgrade_covers_accounts_that_earlier_entries_cover_in_part(account):
    as_before_the_upgrade(account)
    TokenNote.objects.filter(token=AuthToken.objects.first()).delete()
    assert faults() == []
    accounts_cover()
    assert audit.entries_of(account).first().action == "core.user.covered"
    assert TokenNote.objects.count() == 2
    assert faults() == []
    entries = AuditEntry.objects.count()
    insert_token(account)
    accounts_cover()
    assert AuditEntry.objects.count() == entries
    assert len(faults()) == 1


def test_upgrade_covers_no_account_that_was_changed_before_it(account):
    as_before_the_upgrade(account)
    swap_secret(account)
    accounts_cover()
    assert len(faults()) == 1


def test_check_says_what_of_access_it_covers_and_what_not():
    words = "\n".join(coverage().lines())
    assert (
        "users (email, password, totpdevice, second factors, sets of recovery codes, recovery codes, API tokens, "
        "scopes of API tokens)" in words
    )
    left_out = words[words.index("Not checked:") :]
    tables, _, columns = left_out.partition("the columns")
    assert "sessions" in tables
    assert not {"auth tokens", "token notes", "static devices", "static tokens", "TOTP devices"} & set(
        tables.removeprefix("Not checked: the tables ").split(", ")
    )
    assert "token notes (last_used_at)" in columns
