"""The filters of the security log."""

from __future__ import annotations

import datetime as dt
from typing import Any

from django import forms
from django.core.validators import MaxValueValidator, MinValueValidator

from core.accounts.forms import USER_NAME_MAX_LENGTH
from core.accounts.selectors import EventFilter
from core.models import SecurityKind
from core.web.forms import check_days

# What head office asks the security log for, and the kinds of events in it.
GROUPS: dict[str, tuple[str, tuple[SecurityKind, ...]]] = {
    "signed-in": ("sign-ins", (SecurityKind.SIGNED_IN, SecurityKind.RECOVERY_CODE)),
    "refused": ("failures and locks", (SecurityKind.FAILED, SecurityKind.LOCKED, SecurityKind.ADDRESS_LOCKED)),
    "second-factor": (
        "second factors",
        (
            SecurityKind.RECOVERY_CODE,
            SecurityKind.FACTOR_ADDED,
            SecurityKind.FACTOR_REMOVED,
            SecurityKind.FACTOR_LIFTED,
            SecurityKind.CODES_RENEWED,
        ),
    ),
    "roles": (
        "accounts and roles",
        (
            SecurityKind.CREATED,
            SecurityKind.SWITCHED_OFF,
            SecurityKind.SWITCHED_ON,
            SecurityKind.ROLE_GIVEN,
            SecurityKind.ROLE_WITHDRAWN,
            SecurityKind.ASKED,
            SecurityKind.CONFIRMED,
            SecurityKind.REFUSED,
        ),
    ),
    "access": (
        "passwords, links, tokens",
        (
            SecurityKind.PASSWORD_CHANGED,
            SecurityKind.PASSWORD_RESET,
            SecurityKind.LINK_ISSUED,
            SecurityKind.EMAIL_CHANGED,
            SecurityKind.SESSIONS_ENDED,
            SecurityKind.TOKEN_ISSUED,
            SecurityKind.TOKEN_REVOKED,
        ),
    ),
}


# Days beyond these cannot be moved by a day or into another time zone.
FIRST_DAY, LAST_DAY = dt.date(2000, 1, 1), dt.date(2199, 12, 31)


def _day(label: str) -> forms.DateField:
    return forms.DateField(
        label=label,
        required=False,
        widget=forms.DateInput({"type": "date"}, format="%Y-%m-%d"),
        validators=[MinValueValidator(FIRST_DAY), MaxValueValidator(LAST_DAY)],
    )


class SecurityLogForm(forms.Form):
    """The filters of the security log."""

    all_optional = True
    kind = forms.ChoiceField(
        label="What",
        choices=[("", "everything"), *((key, label) for key, (label, _) in GROUPS.items())],
        required=False,
    )
    account = forms.CharField(
        label="User name",
        max_length=USER_NAME_MAX_LENGTH,
        required=False,
        help_text="The whole name: events on the account, and what it did to others.",
    )
    since = _day("From")
    until = _day("To")

    def clean(self) -> dict[str, Any]:
        given: dict[str, Any] = super().clean() or {}
        check_days(self)
        return given

    def wanted(self) -> EventFilter:
        """Return the filter; an invalid value is ignored, and the form shows the error."""
        self.is_valid()
        read = self.cleaned_data
        _, kinds = GROUPS.get(read.get("kind", ""), ("", ()))
        return EventFilter(kinds, read.get("account", ""), read.get("since"), read.get("until"))
