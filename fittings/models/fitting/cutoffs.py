"""Named cut-offs by which degrees become grades."""

from __future__ import annotations

from typing import ClassVar

from django.db import models
from django.db.models import Q

from core.models import printable


class GradeCutoffs(models.Model):
    """One set of cut-offs, as data. It is never edited; feet that were measured name the one that was used."""

    name = models.CharField(max_length=20, unique=True, validators=[printable])
    data = models.JSONField(help_text="What `fittings.domain.fitting.grading` reads.")
    source = models.CharField(max_length=200, help_text="Where the cut-offs come from.")
    is_current = models.BooleanField(default=False)
    created_at = models.DateTimeField()

    class Meta:
        ordering: ClassVar = ["-created_at"]
        verbose_name_plural = "grade cut-offs"
        constraints: ClassVar = [
            models.UniqueConstraint(
                fields=["is_current"],
                condition=Q(is_current=True),
                name="grade_cutoffs_one_current",
                violation_error_message="One set of cut-offs is current already.",
            ),
        ]

    def __str__(self) -> str:
        return f"grade cut-offs {self.name}"
