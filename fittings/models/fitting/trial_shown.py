"""Which trials of need rules were shown over all stores, so that no later one is set against them to find a person."""

from __future__ import annotations

from typing import ClassVar

from django.contrib.postgres.fields import ArrayField
from django.db import models


class TrialShown(models.Model):
    """What a version of the rules said of people fitted before a day: a hash a fitting, of the fitting and the result.

    Two trials differ by the people whose hashes do. From a hash neither the fitting nor the result can be read. Drafts
    that were discarded stay here, because somebody has seen what they said.
    """

    rules_hash = models.CharField(max_length=64, help_text="Of what the rules say, whatever the version is called.")
    until = models.DateField(help_text="The first day of fittings that were not tried.")
    results = ArrayField(models.BigIntegerField())
    shown_at = models.DateTimeField()

    class Meta:
        ordering: ClassVar = ["pk"]
        constraints: ClassVar = [models.UniqueConstraint(fields=["rules_hash", "until"], name="trial_shown_once")]

    def __str__(self) -> str:
        return f"trial {self.pk} of need rules"
