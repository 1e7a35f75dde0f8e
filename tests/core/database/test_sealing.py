"""Secrets of second factors: unreadable where they lie, and of use with the right key and owner alone."""

from __future__ import annotations

import pytest
from django_otp.plugins.otp_totp.models import TOTPDevice

from core.accounts import second_factor
from core.database.sealing import SealBroken, seal, unseal
from core.domain.errors import DomainError
from core.models import SealedDevice

SECRET = b"12345678901234567890"


def test_what_was_sealed_opens_again_and_looks_nothing_like_it():
    sealed = seal(SECRET, purpose="a", owner="1")
    assert SECRET not in sealed
    assert unseal(sealed, purpose="a", owner="1") == SECRET


@pytest.mark.parametrize(("purpose", "owner"), [("b", "1"), ("a", "2"), ("a", "")])
def test_for_another_purpose_or_owner_it_stays_shut(purpose, owner):
    with pytest.raises(SealBroken, match="cannot be decrypted"):
        unseal(seal(SECRET, purpose="a", owner="1"), purpose=purpose, owner=owner)


@pytest.mark.parametrize("sealed", [b"", b"short", bytes(36)])
def test_what_was_never_sealed_does_not_open(sealed):
    with pytest.raises(SealBroken):
        unseal(sealed, purpose="a", owner="1")


def test_a_changed_byte_is_noticed():
    sealed = bytearray(seal(SECRET, purpose="a", owner="1"))
    sealed[-1] ^= 1
    with pytest.raises(SealBroken):
        unseal(bytes(sealed), purpose="a", owner="1")


def test_a_key_of_before_still_opens(settings):
    sealed = seal(SECRET, purpose="a", owner="1")
    settings.SECRET_KEY_FALLBACKS = [settings.SECRET_KEY]
    settings.SECRET_KEY = "another key that is long enough to be one"
    assert unseal(sealed, purpose="a", owner="1") == SECRET


def test_the_table_holds_no_secret_that_makes_codes(cast, device_for, code_of):
    device = device_for(cast.reviewer)
    assert TOTPDevice.objects.get().bin_key != device.bin_key
    assert second_factor.verify(user=cast.reviewer, code=code_of(device)) == device


def test_a_secret_put_into_another_account_is_of_no_use(cast, device_for, code_of):
    device = device_for(cast.reviewer)
    code = code_of(device)
    SealedDevice.objects.update(user=cast.office)
    with pytest.raises(DomainError, match="not correct"):
        second_factor.verify(user=cast.office, code=code)


def test_under_a_key_that_is_gone_no_code_is_right_and_nothing_breaks(cast, device_for, code_of, settings):
    device = device_for(cast.reviewer)
    code = code_of(device)
    settings.SECRET_KEY = "another key that is long enough to be one"
    with pytest.raises(DomainError, match="not correct"):
        second_factor.verify(user=cast.reviewer, code=code)
