"""Photos of shoes."""

from __future__ import annotations

from typing import ClassVar

from django.contrib.postgres.fields import ArrayField
from django.core.validators import RegexValidator
from django.db import models

from catalogue.models.shoes import Shoe
from core.models import User, printable

ALTERNATIVE_TEXT_MAX_LENGTH = 160


class ShoePhoto(models.Model):
    """The photo of a shoe, stored in a few widths. A new photo has a new digest, so its addresses never change content.

    `folder_key` is random: two shoes may have the same picture, and each has files of its own.
    """

    shoe = models.OneToOneField(Shoe, on_delete=models.PROTECT, related_name="photo")
    digest = models.CharField(max_length=32, db_index=True, validators=[RegexValidator(r"^[0-9a-f]{32}\Z")])
    folder_key = models.CharField(max_length=16, unique=True, validators=[RegexValidator(r"^[0-9a-f]{16}\Z")])
    widths_px = ArrayField(models.PositiveIntegerField(), size=3)
    heights_px = ArrayField(models.PositiveIntegerField(), size=3)
    alternative_text = models.CharField(max_length=ALTERNATIVE_TEXT_MAX_LENGTH, validators=[printable])
    set_at = models.DateTimeField()
    set_by = models.ForeignKey(User, on_delete=models.PROTECT, null=True, blank=True, related_name="+")

    class Meta:
        ordering: ClassVar = ["shoe"]

    def __str__(self) -> str:
        return f"photo of {self.shoe.slug}"
