"""Stores, the people who work in them, and the audit trail."""

from __future__ import annotations

import json
import logging
import secrets
from collections.abc import Iterator
from functools import cached_property
from typing import Any, ClassVar

from django.conf import settings
from django.contrib.auth.models import AbstractUser
from django.core.validators import RegexValidator
from django.db import models
from django.db.models import Q
from django.utils.crypto import salted_hmac
from django_otp.plugins.otp_totp.models import TOTPDevice

from core.errors import DomainError
from core.permissions import STORE_ROLES, Role
from core.sealing import SealBroken, seal, unseal

logger = logging.getLogger(__name__)

# A NUL reaches PostgreSQL as an error and control characters break lists and logs.
printable = RegexValidator(r"^[^\x00-\x1f\x7f]*$", "Write this without line breaks or control characters.")


class Store(models.Model):
    """One shop of the practice."""

    slug = models.SlugField(unique=True)
    name = models.CharField(max_length=80, validators=[printable])
    street = models.CharField(max_length=120, blank=True)
    postcode = models.CharField(max_length=16, blank=True)
    town = models.CharField(max_length=80, blank=True)
    phone = models.CharField(max_length=40, blank=True)
    hours = models.TextField(blank=True, help_text="Opening hours, a line a day or group of days.")

    class Meta:
        ordering: ClassVar = ["name"]

    def __str__(self) -> str:
        return self.name


class User(AbstractUser):
    """Somebody of the practice. What they may do follows from their memberships alone."""

    is_demo = models.BooleanField(default=False, help_text="May sign in only where DEBUG is on.")
    must_change_password = models.BooleanField(
        default=False, help_text="The password is a temporary one, also known to whoever made it."
    )
    session_epoch = models.PositiveIntegerField(
        default=0, help_text="Counted up to end every session that began before."
    )

    def memberships_held(self) -> list[Membership]:
        """Return the memberships, read once for each user object."""
        if not hasattr(self, "_memberships"):
            self._memberships = list(self.memberships.select_related("store"))
        return self._memberships

    def roles(self) -> set[str]:
        return {membership.role for membership in self.memberships_held()}

    def store_ids(self) -> list[int]:
        """Return the stores the user works in; head office works in none and sees all."""
        return [held.store_id for held in self.memberships_held() if held.store_id is not None]

    @property
    def display_name(self) -> str:
        return self.get_full_name() or self.username

    def has_second_factor(self) -> bool:
        """Say whether a confirmed second factor guards the account; read with the account for users of sessions."""
        found = getattr(self, "second_factor_found", None)
        return bool(self.totpdevice_set.filter(confirmed=True).exists() if found is None else found)

    def get_session_auth_hash(self) -> str:
        """Return what a session must carry to be of this account: it changes with the password and with the epoch."""
        return self._session_mark(None)

    def get_session_auth_fallback_hash(self) -> Iterator[str]:
        for secret in settings.SECRET_KEY_FALLBACKS:
            yield self._session_mark(secret)

    def _session_mark(self, secret: str | bytes | None) -> str:
        value = f"{self.session_epoch}:{self.password}"
        return salted_hmac("core.User.session", value, secret=secret, algorithm="sha256").hexdigest()


class Membership(models.Model):
    """A role of a user, in a store for the roles that belong to one."""

    user = models.ForeignKey(User, on_delete=models.CASCADE, related_name="memberships")
    role = models.CharField(max_length=16, choices=Role.choices)
    store = models.ForeignKey(Store, on_delete=models.PROTECT, null=True, blank=True, related_name="memberships")

    class Meta:
        ordering: ClassVar = ["user", "role", "store"]
        constraints: ClassVar = [
            models.UniqueConstraint(
                fields=["user", "role", "store"],
                nulls_distinct=False,
                name="membership_once",
                violation_error_message="This person already holds this role there.",
            ),
            models.CheckConstraint(
                condition=Q(role__in=sorted(STORE_ROLES), store__isnull=False)
                | (~Q(role__in=sorted(STORE_ROLES)) & Q(store__isnull=True)),
                name="membership_store_where_role_has_one",
                violation_error_message="Fitters and managers belong to a store; the other roles to none.",
            ),
        ]

    def __str__(self) -> str:
        return f"{self.user.username}: {self.get_role_display()}" + (f" at {self.store}" if self.store else "")


class AppendOnlyQuerySet(models.QuerySet["AuditEntry"]):
    """Refuse what would change the past. The database refuses it too, whoever asks."""

    def update(self, **kwargs: Any) -> int:
        raise DomainError("Audit entries are never changed.", code="append_only", status=403)

    def delete(self) -> tuple[int, dict[str, int]]:
        raise DomainError("Audit entries are never deleted.", code="append_only", status=403)


class AuditEntry(models.Model):
    """One change to a record: when, who, from where, what, before → after, why.

    `payload` is the canonical JSON that is hashed; the other columns repeat parts of it to search by, and
    `verify_audit` compares them. `id`, `previous_hash` and `hash` are set by a trigger under a lock, so that the
    chain has one order whoever writes at the same time.
    """

    id = models.BigIntegerField(primary_key=True, default=0, editable=False)
    at = models.DateTimeField(db_index=True)
    actor = models.ForeignKey(User, on_delete=models.PROTECT, null=True, related_name="+")
    action = models.CharField(max_length=80, db_index=True)
    object_type = models.CharField(max_length=80)
    object_id = models.CharField(max_length=64)
    payload = models.TextField()
    previous_hash = models.BinaryField(max_length=32, unique=True)
    hash = models.BinaryField(max_length=32, unique=True)

    objects = AppendOnlyQuerySet.as_manager()

    class Meta:
        ordering: ClassVar = ["-id"]
        indexes: ClassVar = [models.Index(fields=["object_type", "object_id", "id"], name="audit_by_object")]

    def __str__(self) -> str:
        return f"{self.id} {self.action} {self.object_type} {self.object_id}"

    def save(self, *args: Any, **kwargs: Any) -> None:
        if not self._state.adding:
            raise DomainError("Audit entries are never changed.", code="append_only", status=403)
        kwargs["force_insert"] = True
        super().save(*args, **kwargs)

    def delete(self, *args: Any, **kwargs: Any) -> tuple[int, dict[str, int]]:
        raise DomainError("Audit entries are never deleted.", code="append_only", status=403)

    @cached_property
    def content(self) -> dict[str, Any]:
        """The payload, read."""
        content: dict[str, Any] = json.loads(self.payload)
        return content


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


_SECOND_FACTOR = "second factor"


class TokenNote(models.Model):
    """What the library keeps nowhere of an API token: what it is for, and when it was last used. It goes with it.

    No record of the practice: the label is in the trail with the token's issue, and using a token changes nothing.
    """

    token = models.OneToOneField("knox.AuthToken", on_delete=models.CASCADE, primary_key=True, related_name="note")
    label = models.CharField(max_length=80, blank=True, validators=[printable])
    last_used_at = models.DateTimeField(null=True)

    def __str__(self) -> str:
        return self.label or "token"
