"""A fitting that is being recorded. There is none without a customer, and no customer without consent."""

from __future__ import annotations

import datetime as dt
from typing import Any, ClassVar

from django.conf import settings
from django.db import models
from django.utils import timezone

from core.models import Store, User
from fittings.models.people.people import Customer


class SectionName(models.TextChoices):
    """Sections of the fitting's page that are saved, in their order."""

    PERSON = "person", "customer and consent"
    INTAKE = "intake", "intake"
    STOP_SIGNS = "stop_signs", "stop signs"
    OBSERVATION = "observation", "observation"
    FEET = "feet", "feet"
    TRY_ONS = "try_ons", "try-ons"
    LOOKS = "looks", "looks in motion"
    CHOICE = "choice", "choice"
    SECOND_LOOK = "second_look", "second look"


class DraftQuerySet(models.QuerySet["Draft"]):
    def visible_to(self, user: Any) -> DraftQuerySet:
        """Unfinished fittings of the stores that the user works in: any colleague there goes on with them."""
        return self.filter(store_id__in=user.store_ids())


class Draft(models.Model):
    """An unfinished fitting. It is made when the customer agrees, and gone when it is finished or discarded.

    `key` becomes the `submission` of the fitting, so that finishing twice makes one.
    """

    key = models.UUIDField(primary_key=True, editable=False)
    store = models.ForeignKey(Store, on_delete=models.PROTECT, related_name="drafts")
    customer = models.ForeignKey(Customer, on_delete=models.PROTECT, related_name="drafts")
    made_customer = models.BooleanField(help_text="The customer was made here, and goes with a discarded draft.")
    started_by = models.ForeignKey(User, on_delete=models.PROTECT, related_name="+")
    started_at = models.DateTimeField()
    saved_by = models.ForeignKey(User, on_delete=models.PROTECT, related_name="+")
    saved_at = models.DateTimeField()

    objects = DraftQuerySet.as_manager()

    class Meta:
        ordering: ClassVar = ["-saved_at"]
        verbose_name = "unfinished fitting"

    def __str__(self) -> str:
        return f"unfinished fitting {self.key}"

    @property
    def kept_until(self) -> dt.date:
        """The day on which `apply_retention` removes it, if nobody goes on with it until then."""
        return timezone.localdate(self.saved_at + dt.timedelta(days=settings.DRAFT_RETENTION_DAYS))


class DraftSection(models.Model):
    """What was written in one section, as it was written; `version` counts how often it was saved.

    `page` is the opened page that it came from and `edit` the number of the change there: a late copy of an earlier
    change is known by them, and so is a colleague's.
    """

    draft = models.ForeignKey(Draft, on_delete=models.PROTECT, related_name="sections")
    name = models.CharField(max_length=20, choices=SectionName.choices)
    content = models.JSONField(default=dict, blank=True)
    version = models.PositiveIntegerField(default=1)
    page = models.UUIDField(null=True, blank=True)
    edit = models.PositiveIntegerField(default=0)
    saved_by = models.ForeignKey(User, on_delete=models.PROTECT, related_name="+")
    saved_at = models.DateTimeField()

    class Meta:
        ordering: ClassVar = ["pk"]
        constraints: ClassVar = [
            models.UniqueConstraint(
                fields=["draft", "name"],
                name="draft_section_once",
                violation_error_message="This section is there already.",
            ),
        ]

    def __str__(self) -> str:
        return f"{self.get_name_display()} of unfinished fitting {self.draft_id}"
