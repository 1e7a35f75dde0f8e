"""The rows of the audit trail."""

from __future__ import annotations

import json
from functools import cached_property
from typing import Any, ClassVar

from django.db import models

from core.domain.errors import DomainError
from core.models.people import User


class AppendOnlyQuerySet(models.QuerySet["AuditEntry"]):
    """Refuse what would change the past. The database refuses it too, whoever asks."""

    def update(self, **kwargs: Any) -> int:
        raise DomainError("Audit entries are never changed.", code="append_only", status=403)

    def delete(self) -> tuple[int, dict[str, int]]:
        raise DomainError("Audit entries are never deleted.", code="append_only", status=403)


class AuditEntry(models.Model):
    """One change to a record: when, who, from where, what, before → after, why.

    `payload` is the canonical JSON that is hashed; the other columns repeat parts of it to search by, and
    `verify_audit` compares them. `id`, `previous_hash` and `hash` are set by a trigger under a lock, so that the
    chain has one order whoever writes at the same time.
    """

    id = models.BigIntegerField(primary_key=True, default=0, editable=False)
    at = models.DateTimeField(db_index=True)
    actor = models.ForeignKey(User, on_delete=models.PROTECT, null=True, related_name="+")
    action = models.CharField(max_length=80, db_index=True)
    object_type = models.CharField(max_length=80)
    object_id = models.CharField(max_length=64)
    payload = models.TextField()
    previous_hash = models.BinaryField(max_length=32, unique=True)
    hash = models.BinaryField(max_length=32, unique=True)

    objects = AppendOnlyQuerySet.as_manager()

    class Meta:
        ordering: ClassVar = ["-id"]
        indexes: ClassVar = [models.Index(fields=["object_type", "object_id", "id"], name="audit_by_object")]

    def __str__(self) -> str:
        return f"{self.id} {self.action} {self.object_type} {self.object_id}"

    def save(self, *args: Any, **kwargs: Any) -> None:
        if not self._state.adding:
            raise DomainError("Audit entries are never changed.", code="append_only", status=403)
        kwargs["force_insert"] = True
        super().save(*args, **kwargs)

    def delete(self, *args: Any, **kwargs: Any) -> tuple[int, dict[str, int]]:
        raise DomainError("Audit entries are never deleted.", code="append_only", status=403)

    @cached_property
    def content(self) -> dict[str, Any]:
        """The payload, read."""
        content: dict[str, Any] = json.loads(self.payload)
        return content
