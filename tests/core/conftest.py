"""What the tests of sign-in and accounts share: quick hashes, passwords, codes computed apart from the application."""

from __future__ import annotations

import base64
import hashlib
import hmac
import struct
import time

import pytest
from django.test import Client
from django.urls import reverse

PASSWORD = "a long pass phrase"


def totp_code(key: bytes, at: float, digits: int = 6) -> str:
    """Compute a code by RFC 6238 and RFC 4226, from the standard library alone."""
    digest = hmac.new(key, struct.pack(">Q", int(at) // 30), hashlib.sha1).digest()
    start = digest[-1] & 15
    number = int.from_bytes(digest[start : start + 4], "big") & 0x7FFFFFFF
    return f"{number % 10**digits:0{digits}d}"


@pytest.fixture
def quick_passwords(settings):
    settings.PASSWORD_HASHERS = ["django.contrib.auth.hashers.MD5PasswordHasher"]


@pytest.fixture
def people(quick_passwords, cast):
    """The cast, each with the same password, which the trail has a digest of."""
    from core.audit import Change, record_many

    members = list(cast.members().values())
    for user in members:
        user.set_password(PASSWORD)
        user.save()
    record_many([Change("core.password.changed", user) for user in members], actor=None)
    return cast


@pytest.fixture
def give_password():
    """Return a function that posts the sign-in form."""

    def give(username, password=PASSWORD, *, client=None, address="203.0.113.7", **extra):
        client = client or Client()
        data = {"username": username, "password": password}
        return client.post(reverse("core:sign-in"), data, REMOTE_ADDR=address, **extra)

    return give


@pytest.fixture
def device_for(db):
    """Return a function that sets up a confirmed second factor for a person."""
    from core.models import SealedDevice

    return lambda user: SealedDevice.objects.create(
        user=user, name="test", confirmed=True, key=SealedDevice.new_key(user)
    )


@pytest.fixture
def code_of(db):
    """Return a function that tells the code of a device now, as if none had been used before."""
    from core.models import SealedDevice

    def code(device):
        SealedDevice.objects.filter(pk=device.pk).update(last_t=-1, throttling_failure_count=0, drift=0)
        device.refresh_from_db()
        return totp_code(SealedDevice.objects.get(pk=device.pk).bin_key, time.time())

    return code


@pytest.fixture
def code_of_secret():
    """Return a function that tells the code of a secret as it is shown to be typed."""

    def code(secret):
        text = secret.replace(" ", "")
        return totp_code(base64.b32decode(text + "=" * (-len(text) % 8)), time.time())

    return code


@pytest.fixture
def actions(people):
    """Return a function that lists the audit actions on a record after the cast had passwords, oldest first."""
    from core.audit import entries_of
    from core.models import AuditEntry

    first = AuditEntry.objects.values_list("id", flat=True).first() or 0
    return lambda subject: list(
        entries_of(subject).filter(id__gt=first).order_by("id").values_list("action", flat=True)
    )
