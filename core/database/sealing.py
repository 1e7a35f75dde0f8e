"""Secrets that must be read again, encrypted where they lie: whoever has the database alone has none of them."""

from __future__ import annotations

from cryptography.exceptions import InvalidTag
from cryptography.hazmat.primitives.ciphers.aead import AESSIV
from django.conf import settings
from django.utils.crypto import salted_hmac


class SealBroken(ValueError):
    """What was sealed cannot be opened: it was changed, moved, or sealed under a key that is gone."""


def _cipher(key: str, purpose: str) -> AESSIV:
    return AESSIV(salted_hmac(f"core.sealing.{purpose}", "", secret=key, algorithm="sha512").digest())


def seal(secret: bytes, *, purpose: str, owner: str) -> bytes:
    """Encrypt a secret with AES-SIV, 16 bytes longer than it.

    Parameters
    ----------
    purpose : str
        What kind of secret it is; each has a key of its own, derived from SECRET_KEY.
    owner : str
        Whose it is: moved to somebody else's record it does not open.

    References
    ----------
    .. [1] RFC 5297; the same secret of the same owner always looks the same, which a random secret does not mind.
    """
    return _cipher(settings.SECRET_KEY, purpose).encrypt(secret, [owner.encode()])


def unseal(sealed: bytes, *, purpose: str, owner: str) -> bytes:
    """Return what was sealed under SECRET_KEY or one of SECRET_KEY_FALLBACKS; raises `SealBroken`."""
    for key in (settings.SECRET_KEY, *settings.SECRET_KEY_FALLBACKS):
        try:
            return _cipher(key, purpose).decrypt(sealed, [owner.encode()])
        except (InvalidTag, ValueError):
            continue
    raise SealBroken(f"a secret of {owner} ({purpose}) cannot be opened with the keys of this installation")
