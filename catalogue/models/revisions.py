"""How the public pages and the API know what changed and who asked."""

from __future__ import annotations

from typing import ClassVar

from django.contrib.postgres.fields import ArrayField
from django.db import models
from django.db.models import Q


class CatalogueRevision(models.Model):
    """One row that changes with everything the public catalogue shows. Triggers set it; pages tell their age by it.

    `shoes_number` leaves stock and stores out, which change all day. It repeats what other rows' audit entries already
    say, so it has none of its own.
    """

    id = models.SmallIntegerField(primary_key=True, default=1)
    number = models.BigIntegerField(default=0)
    changed_at = models.DateTimeField()
    shoes_number = models.BigIntegerField(default=0)
    shoes_changed_at = models.DateTimeField(null=True)

    class Meta:
        constraints: ClassVar = [models.CheckConstraint(condition=Q(id=1), name="catalogue_revision_one_row")]

    def __str__(self) -> str:
        return f"{self.number} of {self.changed_at:%Y-%m-%d %H:%M:%S.%f}"


class ShoesChange(models.Model):
    """Which shoes a statement changed, by the `shoes_number` it led to; None for more than can be listed.

    Triggers write it, so that what is held in memory is updated and not read again. The last thousand remain.
    """

    number = models.BigIntegerField(primary_key=True)
    changed_at = models.DateTimeField()
    shoes = ArrayField(models.BigIntegerField(), null=True)

    def __str__(self) -> str:
        return f"{self.number}: {'many' if self.shoes is None else len(self.shoes)}"


class ApiAllowance(models.Model):
    """How often an address without an account asked the API in one minute. Kept for two, not on disk."""

    address = models.CharField(max_length=45)
    minute = models.BigIntegerField()
    requests = models.IntegerField(default=1)

    class Meta:
        constraints: ClassVar = [models.UniqueConstraint(fields=["minute", "address"], name="api_allowance_once")]

    def __str__(self) -> str:
        return f"{self.address}: {self.requests}"
