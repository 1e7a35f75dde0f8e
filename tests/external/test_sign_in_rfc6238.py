"""The codes of the second factor against the standard's own table.

Source: RFC 6238, appendix B, SHA-1 (from memory: MEM): secret "12345678901234567890", step 30 s, eight digits. The last
six are the six-digit code, because the code is a number modulo a power of ten (RFC 4226, 5.3: DEF).
"""

from __future__ import annotations

import pytest

from core.accounts import second_factor
from core.domain.errors import DomainError
from core.models import SealedDevice

SECRET = b"12345678901234567890"
TABLE = [
    (59, "94287082"),
    (1111111109, "07081804"),
    (1111111111, "14050471"),
    (1234567890, "89005924"),
    (2000000000, "69279037"),
    (20000000000, "65353130"),
]


@pytest.fixture
def device(cast):
    return SealedDevice.objects.create(
        user=cast.reviewer, name="test", key=SealedDevice.new_key(cast.reviewer, SECRET), confirmed=True
    )


@pytest.mark.parametrize(("at", "digits"), TABLE)
def test_published_code_is_taken_at_its_time(device, monkeypatch, at, digits):
    monkeypatch.setattr("time.time", lambda: at)
    assert second_factor.verify(user=device.user, code=digits[-6:]) == device


@pytest.mark.parametrize(("at", "digits"), TABLE)
def test_published_code_is_refused_two_steps_later(device, monkeypatch, at, digits):
    monkeypatch.setattr("time.time", lambda: at + 60)
    with pytest.raises(DomainError, match="not correct"):
        second_factor.verify(user=device.user, code=digits[-6:])


def test_secret_is_shown_in_base32(device):
    """RFC 4648 base32 of the same secret, worked out with coreutils' base32: DERIVED."""
    assert second_factor.setup_secret(device) == "GEZD GNBV GY3T QOJQ GEZD GNBV GY3T QOJQ"
