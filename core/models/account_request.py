"""What one head office account asked for and another one has to confirm."""

from __future__ import annotations

from typing import ClassVar

from django.db import models
from django.db.models import F, Q

from core.gate.access import Role
from core.models.people import Store, User


class AccountAct(models.TextChoices):
    """An act on an account that takes two people of head office."""

    ROLE = "role", "give the role"
    NEW_PASSWORD = "new-password", "set a temporary password"
    NEW_LINK = "new-link", "create a single-use link"
    SECOND_FACTOR = "second-factor", "remove the second factor"


# After "asked to".
_IN_WORDS = {
    AccountAct.ROLE: "give {user} the role {role}",
    AccountAct.NEW_PASSWORD: "set a temporary password for {user}",
    AccountAct.NEW_LINK: "create a single-use link for {user}",
    AccountAct.SECOND_FACTOR: "remove the second factor of {user}",
}


class Decision(models.TextChoices):
    """What the second account decided; open requests have none."""

    CONFIRMED = "confirmed", "confirmed"
    REFUSED = "refused", "refused"


class AccountRequest(models.Model):
    """An act on an account that waits for, or was decided by, a second head office account.

    `role` and `store` are those to be given, empty for other acts. Never edited once it is decided.
    """

    user = models.ForeignKey(User, on_delete=models.PROTECT, related_name="+")
    act = models.CharField(max_length=16, choices=AccountAct.choices)
    role = models.CharField(max_length=16, choices=Role.choices, blank=True)
    store = models.ForeignKey(Store, on_delete=models.PROTECT, null=True, blank=True, related_name="+")
    reason = models.TextField()
    asked_by = models.ForeignKey(User, on_delete=models.PROTECT, related_name="+")
    asked_at = models.DateTimeField()
    decision = models.CharField(max_length=12, choices=Decision.choices, blank=True)
    decided_by = models.ForeignKey(User, on_delete=models.PROTECT, null=True, blank=True, related_name="+")
    decided_at = models.DateTimeField(null=True, blank=True)

    class Meta:
        ordering: ClassVar = ["-asked_at", "-pk"]
        constraints: ClassVar = [
            models.UniqueConstraint(
                fields=["user", "act", "role", "store"],
                nulls_distinct=False,
                condition=Q(decision=""),
                name="account_request_once",
                violation_error_message="The same was asked for already and waits for a second account.",
            ),
            models.CheckConstraint(
                condition=Q(decision="", decided_by__isnull=True, decided_at__isnull=True)
                | (~Q(decision="") & Q(decided_by__isnull=False, decided_at__isnull=False)),
                name="account_request_decided",
                violation_error_message="A decision has who made it and when.",
            ),
            models.CheckConstraint(
                condition=~Q(decision="confirmed") | ~Q(decided_by=F("asked_by")),
                name="account_request_two_people",
                violation_error_message="Somebody other than who asked confirms it.",
            ),
        ]

    def __str__(self) -> str:
        return _IN_WORDS[AccountAct(self.act)].format(user=self.user.username, role=self._role_in_words())

    @property
    def label(self) -> str:
        """The act without the account's name."""
        return " ".join(filter(None, [AccountAct(self.act).label, self._role_in_words()]))

    def _role_in_words(self) -> str:
        role = Role(self.role).label if self.role else ""
        return f"{role} at {self.store}" if self.store else role
