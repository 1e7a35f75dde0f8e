"""Stores, accounts and roles."""

from __future__ import annotations

from collections.abc import Iterator
from typing import ClassVar

from django.conf import settings
from django.contrib.auth.hashers import check_password
from django.contrib.auth.models import AbstractUser
from django.core.exceptions import ValidationError
from django.core.validators import RegexValidator
from django.db import models
from django.db.models import Q
from django.utils.crypto import salted_hmac

from core.gate.access import APART_FROM_OFFICE, STORE_ROLES, Role

# PostgreSQL refuses NUL, and other control characters break lists and logs.
printable = RegexValidator(r"^[^\x00-\x1f\x7f]*$", "Write this without line breaks or control characters.")

# Characters that turn the direction of writing could make one name look like another (Unicode Standard Annex 9).
undirected = RegexValidator(
    r"[\u061c\u200e\u200f\u202a-\u202e\u2066-\u2069]",
    "Write this without characters that turn the direction of writing.",
    inverse_match=True,
)

currency_code = RegexValidator(r"^[A-Z]{3}\Z", "Write the currency as three capital letters, such as EUR (ISO 4217).")


class SizeSystem(models.TextChoices):
    """How a store writes shoe sizes; stock is counted by EU size everywhere."""

    EU = "eu", "EU"
    UK = "uk", "UK"
    US = "us", "US"


TRAINING_MARK = " (training)"
"""Ends the name of every training store, so that each page that names the store says what it is."""


class StoreQuerySet(models.QuerySet["Store"]):
    def real(self) -> StoreQuerySet:
        """Stores that visitors see and that count: all but training stores."""
        return self.filter(is_training=False)


class Store(models.Model):
    """One shop of the practice, or a store for training, whose people are invented and count nowhere."""

    slug = models.SlugField(unique=True)
    name = models.CharField(max_length=80, validators=[printable])
    street = models.CharField(max_length=120, blank=True)
    postcode = models.CharField(max_length=16, blank=True)
    town = models.CharField(max_length=80, blank=True)
    phone = models.CharField(max_length=40, blank=True)
    hours = models.TextField(blank=True, help_text="Opening hours, one line per day or group of days.")
    size_system = models.CharField(
        max_length=2, choices=SizeSystem.choices, default=SizeSystem.EU, db_default=SizeSystem.EU
    )
    currency = models.CharField(
        max_length=3,
        blank=True,
        default="",
        db_default="",
        validators=[currency_code],
        help_text="ISO 4217; empty for the practice’s own.",
    )
    is_training = models.BooleanField(
        default=False, db_default=False, help_text="Its people are invented and count nowhere; it holds no stock."
    )

    objects = StoreQuerySet.as_manager()

    class Meta:
        ordering: ClassVar = ["name"]
        constraints: ClassVar = [
            models.CheckConstraint(
                condition=models.Q(is_training=False) | models.Q(name__endswith=TRAINING_MARK),
                name="store_for_training_is_named_so",
                violation_error_message="The name of a training store ends with “(training)”.",
            ),
        ]

    def __str__(self) -> str:
        return self.name


class User(AbstractUser):
    """A member of staff. Their memberships alone decide what they may do."""

    is_demo = models.BooleanField(default=False, help_text="May sign in only where DEBUG is on.")
    must_change_password = models.BooleanField(
        default=False, help_text="The password is temporary and known to the person who set it."
    )
    session_epoch = models.PositiveIntegerField(
        default=0, help_text="Incremented to end every session that started before."
    )

    def check_password(self, raw_password: str | None) -> bool:
        """Compare a password. Django would renew an old hash here; signing in does that, with an entry in the trail."""
        return check_password(raw_password, self.password)

    def memberships_held(self) -> list[Membership]:
        """Return the memberships, read once for each user object."""
        if not hasattr(self, "_memberships"):
            self._memberships = list(self.memberships.select_related("store"))
        return self._memberships

    def roles(self) -> set[str]:
        return {membership.role for membership in self.memberships_held()}

    def store_ids(self) -> list[int]:
        """Return the stores the user works in; head office has none here, because it may see all of them."""
        return [row.store_id for row in self.memberships_held() if row.store_id is not None]

    @property
    def display_name(self) -> str:
        return self.get_full_name() or self.username

    def name_in_full(self, *, has_namesake: bool) -> str:
        """Return the display name, with the sign-in name where another account has the same one (`namesakes`)."""
        name = self.display_name
        return f"{name} ({self.username})" if has_namesake and name != self.username else name

    @classmethod
    def namesakes(cls, person: str = "") -> models.Exists:
        """Return whether another account has the name of a person: the row itself, or who its column leads to."""
        path = f"{person}__" if person else ""
        same = cls.objects.filter(
            first_name=models.OuterRef(f"{path}first_name"), last_name=models.OuterRef(f"{path}last_name")
        )
        return models.Exists(same.exclude(pk=models.OuterRef(f"{path}pk")))

    def has_second_factor(self) -> bool:
        """Return whether a confirmed second factor is set up; already annotated for users of sessions."""
        is_set_up = getattr(self, "second_factor_set_up", None)
        return bool(self.totpdevice_set.filter(confirmed=True).exists() if is_set_up is None else is_set_up)

    def get_session_auth_hash(self) -> str:
        """Return the value that a valid session of this account contains; it changes with password and epoch."""
        return self._session_mark(None)

    def get_session_auth_fallback_hash(self) -> Iterator[str]:
        for secret in settings.SECRET_KEY_FALLBACKS:
            yield self._session_mark(secret)

    def _session_mark(self, secret: str | bytes | None) -> str:
        value = f"{self.session_epoch}:{self.password}"
        return salted_hmac("core.User.session", value, secret=secret, algorithm="sha256").hexdigest()


class Membership(models.Model):
    """A user's role, in one store for fitters and managers."""

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
                violation_error_message="This person already has this role there.",
            ),
            models.CheckConstraint(
                condition=Q(role__in=sorted(STORE_ROLES), store__isnull=False)
                | (~Q(role__in=sorted(STORE_ROLES)) & Q(store__isnull=True)),
                name="membership_store_where_role_has_one",
                violation_error_message="Fitters and store managers need a store; the other roles must not have one.",
            ),
        ]

    def __str__(self) -> str:
        return f"{self.user.username}: {self.get_role_display()}" + (f" at {self.store}" if self.store else "")

    def clean(self) -> None:
        """Refuse what `core/triggers/roles_apart.sql` refuses, in words."""
        apart = APART_FROM_OFFICE if self.role == Role.OFFICE else {Role.OFFICE}
        if self.role in (APART_FROM_OFFICE | {Role.OFFICE}) and self.user_id:
            held = {row.role for row in Membership.objects.filter(user=self.user_id).exclude(pk=self.pk)}
            if held & apart:
                raise ValidationError({"role": "Head office may not also be a reviewer, fitter or store manager."})
