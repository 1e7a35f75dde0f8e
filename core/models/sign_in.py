"""What accounts sign in with besides a password: second factors and API tokens."""

from __future__ import annotations

import logging
import secrets

from django.db import models
from django_otp.plugins.otp_totp.models import TOTPDevice

from core.database.sealing import SealBroken, seal, unseal
from core.models.people import User, printable

logger = logging.getLogger(__name__)

_SECOND_FACTOR = "second factor"


class SealedDevice(TOTPDevice):
    """A second factor's device. Its secret is sealed in the table and opened only where a code is checked."""

    class Meta:
        proxy = True

    @classmethod
    def new_key(cls, user: User, secret: bytes | None = None) -> str:
        """Return a secret as the table keeps it; a random one of 160 bits (RFC 4226, 4) where none is given."""
        return seal(secret or secrets.token_bytes(20), purpose=_SECOND_FACTOR, owner=str(user.pk)).hex()

    @property
    def bin_key(self) -> bytes:
        return unseal(bytes.fromhex(self.key), purpose=_SECOND_FACTOR, owner=str(self.user_id))

    def verify_token(self, token: str) -> bool:
        """Check a code. Where the secret cannot be opened no code is right; head office can lift the factor."""
        try:
            return bool(super().verify_token(token))  # type: ignore[no-untyped-call]  # django-otp has no types
        except SealBroken as broken:
            logger.error("%s", broken)
            return False


class TokenNote(models.Model):
    """What the library keeps nowhere of an API token: what it is for, and when it was last used. It goes with it.

    No record of the practice: the label is in the trail with the token's issue, and using a token changes nothing.
    """

    token = models.OneToOneField("knox.AuthToken", on_delete=models.CASCADE, primary_key=True, related_name="note")
    label = models.CharField(max_length=80, blank=True, validators=[printable])
    last_used_at = models.DateTimeField(null=True)

    def __str__(self) -> str:
        return self.label or "token"
