"""What was uploaded, stored byte for byte with its verdict."""

from __future__ import annotations

import uuid
from typing import ClassVar

from django.conf import settings
from django.db import models

NAME_LENGTH = 200
# `Upload.source` of what was typed in for a rig without a computer.
BY_HAND = "hand"
# `StagedUpload.source` of a logger's file of a chamber.
CLIMATE = "climate"


class UploadKind(models.TextChoices):
    """What an upload holds."""

    CURVES = "curves", "bench file"
    READINGS = "readings", "readings file"
    ZIP = "zip", "ZIP of files"


class Upload(models.Model):
    """One upload: its bytes, who sent it, and what became of every file in it."""

    sha256 = models.CharField(max_length=64, unique=True)
    name = models.CharField(max_length=NAME_LENGTH)
    kind = models.CharField(max_length=10, choices=UploadKind.choices)
    source = models.CharField(max_length=10)
    data = models.BinaryField()
    size_bytes = models.PositiveIntegerField()
    by = models.ForeignKey(settings.AUTH_USER_MODEL, on_delete=models.PROTECT, related_name="+")
    at = models.DateTimeField(db_index=True)
    # {"accepted": [...], "held": [...], "rejected": [...], "warnings": [...]}, as answered when it was stored.
    verdict = models.JSONField()

    # Set by the service where the same bytes were stored before; not a column.
    is_repeat: bool = False

    class Meta:
        ordering: ClassVar = ["-at", "-pk"]

    def __str__(self) -> str:
        return f"{self.name} ({self.sha256[:12]})"

    @property
    def is_by_hand(self) -> bool:
        """Whether somebody typed it on the page for entry by hand."""
        return self.source == BY_HAND

    @property
    def n_accepted(self) -> int:
        return len(self.verdict["accepted"])

    @property
    def n_held(self) -> int:
        return len(self.verdict["held"])

    @property
    def n_problems(self) -> int:
        return len(self.verdict["rejected"])


class StagedUpload(models.Model):
    """Bytes that somebody looks at before storing them. Not a record yet: it goes when confirmed, or after a day."""

    by = models.ForeignKey(settings.AUTH_USER_MODEL, on_delete=models.CASCADE, related_name="+")
    name = models.CharField(max_length=NAME_LENGTH)
    data = models.BinaryField()
    at = models.DateTimeField(auto_now_add=True)
    # Files chosen together are looked at together.
    batch = models.UUIDField(default=uuid.uuid4, db_index=True)
    # As `Upload.source` will say; empty: as the request says.
    source = models.CharField(max_length=10, blank=True)

    class Meta:
        ordering: ClassVar = ["-at", "-pk"]

    def __str__(self) -> str:
        return f"{self.name}, looked at by {self.by}"

    @property
    def is_by_hand(self) -> bool:
        return self.source == BY_HAND
