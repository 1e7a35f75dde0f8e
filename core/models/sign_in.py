"""Second factors and notes on API tokens."""

from __future__ import annotations

import logging
import secrets

from django.db import models
from django_otp.plugins.otp_totp.models import TOTPDevice

from core.database.sealing import SealBroken, seal, unseal
from core.gate.token_scopes import TokenScope
from core.models.people import User, printable

logger = logging.getLogger(__name__)

_SECOND_FACTOR = "second factor"


class SealedDevice(TOTPDevice):
    """The device of a second factor. Its secret is encrypted in the table and decrypted only to check a code."""

    class Meta:
        proxy = True

    @classmethod
    def new_key(cls, user: User, secret: bytes | None = None) -> str:
        """Return an encrypted secret for the table; by default a random one of 160 bits (RFC 4226, section 4)."""
        return seal(secret or secrets.token_bytes(20), purpose=_SECOND_FACTOR, owner=str(user.pk)).hex()

    @property
    def bin_key(self) -> bytes:
        return unseal(bytes.fromhex(self.key), purpose=_SECOND_FACTOR, owner=str(self.user_id))

    def verify_token(self, token: str) -> bool:
        """Check a code. If the secret cannot be decrypted, no code is right; head office can remove the factor."""
        try:
            return bool(super().verify_token(token))  # type: ignore[no-untyped-call]  # django-otp has no types
        except SealBroken as broken:
            logger.error("%s", broken)
            return False


class TokenNote(models.Model):
    """Details of an API token that knox does not store: label, scope, last use. Deleted together with the token.

    Not an audited record: label and scope are in the digest of the account, and using a token changes nothing.
    """

    token = models.OneToOneField("knox.AuthToken", on_delete=models.CASCADE, primary_key=True, related_name="note")
    label = models.CharField(max_length=80, blank=True, validators=[printable])
    scope = models.CharField(
        max_length=8, choices=TokenScope.choices, default=TokenScope.FULL, db_default=TokenScope.FULL
    )
    last_used_at = models.DateTimeField(null=True)

    def __str__(self) -> str:
        return self.label or "token"
