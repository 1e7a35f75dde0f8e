"""Stores, accounts, and the roles that people hold."""

from __future__ import annotations

from collections.abc import Iterator
from typing import ClassVar

from django.conf import settings
from django.contrib.auth.models import AbstractUser
from django.core.validators import RegexValidator
from django.db import models
from django.db.models import Q
from django.utils.crypto import salted_hmac

from core.gate.permissions import STORE_ROLES, Role

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
