"""Encryption of secrets that must be readable again: the database alone is not enough to read them."""

from __future__ import annotations

from cryptography.exceptions import InvalidTag
from cryptography.hazmat.primitives.ciphers.aead import AESSIV
from django.conf import settings
from django.utils.crypto import salted_hmac


class SealBroken(ValueError):
    """A secret cannot be decrypted: it was changed, moved, or encrypted with a key that is no longer configured."""


def _cipher(key: str, purpose: str) -> AESSIV:
    return AESSIV(salted_hmac(f"core.sealing.{purpose}", "", secret=key, algorithm="sha512").digest())


def seal(secret: bytes, *, purpose: str, owner: str) -> bytes:
    """Encrypt a secret with AES-SIV; the result is 16 bytes longer.

    Parameters
    ----------
    purpose : str
        The kind of secret; each has its own key, derived from SECRET_KEY.
    owner : str
        The account it belongs to; copied to another account it cannot be decrypted.

    References
    ----------
    .. [1] RFC 5297. Equal secrets of one owner encrypt to equal texts, which is harmless for random secrets.
    """
    return _cipher(settings.SECRET_KEY, purpose).encrypt(secret, [owner.encode()])


def unseal(sealed: bytes, *, purpose: str, owner: str) -> bytes:
    """Decrypt a secret with SECRET_KEY or one of SECRET_KEY_FALLBACKS; raises `SealBroken`."""
    for key in (settings.SECRET_KEY, *settings.SECRET_KEY_FALLBACKS):
        try:
            return _cipher(key, purpose).decrypt(sealed, [owner.encode()])
        except (InvalidTag, ValueError):
            continue
    raise SealBroken(f"the {purpose} of account {owner} cannot be decrypted with SECRET_KEY or SECRET_KEY_FALLBACKS")
