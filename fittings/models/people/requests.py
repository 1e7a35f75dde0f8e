"""Fittings that visitors ask for at a store. Little is saved of them, and only for days."""

from __future__ import annotations

import datetime as dt
from typing import Any, ClassVar

from django.db import models
from django.db.models import Q

from core.models import Store, User, printable

NAME_MAX_LENGTH = 80
REACH_MAX_LENGTH = 120
REMOVED_AFTER_DAYS = 30
"""How long after the day wished for the name and the way to reach somebody are removed at the latest."""


class RequestState(models.TextChoices):
    """What became of a request."""

    OPEN = "open", "open"
    DONE = "done", "arranged"
    CLOSED = "closed", "closed"
    EXPIRED = "expired", "expired"


class FittingRequestQuerySet(models.QuerySet["FittingRequest"]):
    def visible_to(self, user: Any) -> FittingRequestQuerySet:
        """Requests at the stores that the user works in."""
        return self.filter(store_id__in=user.store_ids())

    def waiting(self) -> FittingRequestQuerySet:
        return self.filter(state=RequestState.OPEN)

    def over(self, today: dt.date) -> FittingRequestQuerySet:
        """Open requests whose day is so long ago that they are removed."""
        return self.waiting().filter(wish_day__lt=today - dt.timedelta(days=REMOVED_AFTER_DAYS))


class FittingRequest(models.Model):
    """Somebody asks to be fitted: a name, a way to reach them, a day. Both are emptied when the request ends.

    `asked_from` is a hash of address and day, to count how often one address asks; emptied a day later.
    """

    store = models.ForeignKey(Store, on_delete=models.PROTECT, related_name="fitting_requests")
    name = models.CharField(max_length=NAME_MAX_LENGTH, blank=True, validators=[printable])
    reach = models.CharField(max_length=REACH_MAX_LENGTH, blank=True, validators=[printable])
    wish_day = models.DateField()
    consent_version = models.CharField(max_length=20)
    asked_at = models.DateTimeField()
    asked_from = models.CharField(max_length=16, blank=True)
    state = models.CharField(max_length=8, choices=RequestState.choices, default=RequestState.OPEN)
    closed_at = models.DateTimeField(null=True, blank=True)
    closed_by = models.ForeignKey(User, on_delete=models.PROTECT, null=True, blank=True, related_name="+")

    objects = FittingRequestQuerySet.as_manager()

    class Meta:
        ordering: ClassVar = ["wish_day", "pk"]
        indexes: ClassVar = [
            models.Index(fields=["store", "wish_day"], condition=Q(state="open"), name="fitting_request_open"),
            models.Index(fields=["asked_from"], condition=~Q(asked_from=""), name="fitting_request_from"),
        ]
        constraints: ClassVar = [
            models.CheckConstraint(
                condition=(Q(state="open", closed_at__isnull=True) & ~Q(name="") & ~Q(reach=""))
                | (~Q(state="open") & Q(closed_at__isnull=False, name="", reach="")),
                name="fitting_request_emptied_when_closed",
                violation_error_message="An open request has a name and a way to reach; a closed one neither.",
            ),
        ]

    def __str__(self) -> str:
        # Read by the audit trail and by logs: no personal data.
        return f"request {self.pk} for a fitting"
