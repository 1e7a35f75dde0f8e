"""The security log: sign-ins, and what changes who can get in."""

from __future__ import annotations

from typing import ClassVar

from django.db import models

from core.models.people import User


class SecurityKind(models.TextChoices):
    """What happened; the label is read after the name of the account."""

    SIGNED_IN = "signed-in", "signed in"
    FAILED = "failed", "failed to sign in"
    LOCKED = "locked", "sign-in locked"
    ADDRESS_LOCKED = "address-locked", "network address locked"
    RECOVERY_CODE = "recovery-code", "recovery code used"
    PASSWORD_CHANGED = "password-changed", "password changed"
    PASSWORD_RESET = "password-reset", "temporary password set"
    LINK_ISSUED = "link-issued", "single-use link created"
    FACTOR_ADDED = "factor-added", "second factor set up"
    FACTOR_REMOVED = "factor-removed", "second factor removed"
    FACTOR_LIFTED = "factor-lifted", "second factor removed by head office"
    CODES_RENEWED = "codes-renewed", "new recovery codes"
    SESSIONS_ENDED = "sessions-ended", "sessions ended"
    CREATED = "created", "account created"
    SWITCHED_OFF = "switched-off", "account switched off"
    SWITCHED_ON = "switched-on", "account switched on"
    EMAIL_CHANGED = "email-changed", "e-mail address changed"
    ROLE_GIVEN = "role-given", "role given"
    ROLE_WITHDRAWN = "role-withdrawn", "role withdrawn"
    ASKED = "asked", "asked for, waits for a second account"
    CONFIRMED = "confirmed", "confirmed by a second account"
    REFUSED = "refused", "refused or taken back"
    TOKEN_ISSUED = "token-issued", "API token created"
    TOKEN_REVOKED = "token-revoked", "API token revoked"


class SecurityEvent(models.Model):
    """One event of the security log. Never changed; deleted after the retention period.

    `user` is whose account it is about, empty where the given name is no account's: what was typed there is not
    stored, because it may be a password. `actor` is who did it, empty for somebody not signed in and for commands.
    `details` are words of the program and names of roles and stores, never free text: the log is about staff alone.
    `times` is how often it happened in the hour that began with `at`; more than once for events about no account alone.
    """

    at = models.DateTimeField()
    kind = models.CharField(max_length=16, choices=SecurityKind.choices)
    user = models.ForeignKey(User, on_delete=models.PROTECT, null=True, related_name="+")
    actor = models.ForeignKey(User, on_delete=models.PROTECT, null=True, related_name="+")
    address = models.CharField(max_length=45, blank=True, help_text="Network address of the client.")
    details = models.CharField(max_length=200, blank=True)
    times = models.PositiveIntegerField(default=1, db_default=1)

    class Meta:
        ordering: ClassVar = ["-at", "-pk"]
        indexes: ClassVar = [
            models.Index(fields=["-at", "-id"], name="security_event_newest"),
            models.Index(fields=["user", "-at"], name="security_event_of_user"),
        ]

    def __str__(self) -> str:
        return f"{self.at:%Y-%m-%d %H:%M} {self.get_kind_display()}"
