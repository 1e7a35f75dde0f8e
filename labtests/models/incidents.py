"""Incidents: a rig measured wrongly for some time, and what was measured on it is taken back together."""

from __future__ import annotations

from typing import ClassVar

from django.conf import settings
from django.db import models
from django.db.models import F, Q

from labtests.models.rigs import CalibratedQuantity, Rig


class IncidentEffect(models.TextChoices):
    """What happens to the tests of an incident."""

    DOUBT = "doubt", "put in doubt: held until a reviewer decides on each"
    VOID = "void", "void: no longer used"


class IncidentState(models.TextChoices):
    """Where an incident is."""

    PROPOSED = "proposed", "proposed"
    CARRIED_OUT = "carried_out", "carried out"
    DISMISSED = "dismissed", "dismissed"


class Incident(models.Model):
    """A quantity of a rig that was wrong from one time to another, both included.

    Anybody of the lab proposes one, a reviewer carries it out or dismisses it. `touched` is what it touched when
    it was carried out, as the API answers: tests, shoes, wall cards, stores and fittings, without people.
    """

    rig = models.ForeignKey(Rig, on_delete=models.PROTECT, related_name="incidents")
    quantity = models.CharField(max_length=16, choices=CalibratedQuantity.choices)
    begins_at = models.DateTimeField()
    ends_at = models.DateTimeField()
    effect = models.CharField(max_length=5, choices=IncidentEffect.choices, default=IncidentEffect.DOUBT)
    reason = models.TextField()
    state = models.CharField(max_length=12, choices=IncidentState.choices, default=IncidentState.PROPOSED)
    proposed_by = models.ForeignKey(settings.AUTH_USER_MODEL, on_delete=models.PROTECT, related_name="+")
    proposed_at = models.DateTimeField()
    decided_by = models.ForeignKey(
        settings.AUTH_USER_MODEL, on_delete=models.PROTECT, null=True, blank=True, related_name="+"
    )
    decided_at = models.DateTimeField(null=True, blank=True)
    decided_because = models.TextField(blank=True)
    touched = models.JSONField(default=dict, blank=True)

    class Meta:
        ordering: ClassVar = ["-proposed_at", "-pk"]
        constraints: ClassVar = [
            models.CheckConstraint(
                condition=Q(begins_at__lte=F("ends_at")),
                name="incident_begins_before_it_ends",
                violation_error_message="An incident begins before it ends.",
            ),
            models.CheckConstraint(
                condition=~Q(reason=""), name="incident_has_reason", violation_error_message="Give a reason."
            ),
            models.CheckConstraint(
                condition=Q(state=IncidentState.PROPOSED, decided_by__isnull=True, decided_at__isnull=True)
                | Q(~Q(state=IncidentState.PROPOSED), decided_by__isnull=False, decided_at__isnull=False),
                name="incident_decided_by",
                violation_error_message="An incident that was decided on needs who did it and when.",
            ),
        ]

    def __str__(self) -> str:
        return f"incident {self.pk} of {self.rig.code}"

    @property
    def takes_two(self) -> bool:
        """Whether another than who proposed it has to carry it out: to void tests is final, to doubt them is not."""
        return self.effect == IncidentEffect.VOID

    @property
    def decider(self) -> str:
        """Who carries it out or dismisses it, in words."""
        return "another reviewer" if self.takes_two else "a reviewer"

    @property
    def is_withdrawn(self) -> bool:
        """Whether who proposed it took the proposal back."""
        return self.state == IncidentState.DISMISSED and self.decided_by_id == self.proposed_by_id
