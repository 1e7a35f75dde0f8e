"""The rows of the audit trail."""

from __future__ import annotations

import json
from functools import cached_property
from typing import Any, ClassVar

from django.db import models

from core.domain.errors import DomainError
from core.models.people import User


class AppendOnlyQuerySet(models.QuerySet["AuditEntry"]):
    """Refuses updates and deletions. The database refuses them too."""

    def update(self, **kwargs: Any) -> int:
        raise DomainError("Audit entries cannot be changed.", code="append_only", status=403)

    def delete(self) -> tuple[int, dict[str, int]]:
        raise DomainError("Audit entries cannot be deleted.", code="append_only", status=403)


class AuditEntry(models.Model):
    """One change to a record: when, who, from where, what, before → after, why.

    `payload` is the canonical JSON that is hashed. The other columns repeat parts of it for searching, and
    `verify_audit` compares them. A trigger sets `id`, `previous_hash` and `hash` under a lock, so that the chain has
    one order even if several processes write at the same time.
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
            raise DomainError("Audit entries cannot be changed.", code="append_only", status=403)
        kwargs["force_insert"] = True
        super().save(*args, **kwargs)

    def delete(self, *args: Any, **kwargs: Any) -> tuple[int, dict[str, int]]:
        raise DomainError("Audit entries cannot be deleted.", code="append_only", status=403)

    @cached_property
    def content(self) -> dict[str, Any]:
        """The payload, parsed."""
        content: dict[str, Any] = json.loads(self.payload)
        return content


class DigestSalt(models.Model):
    """The salt of the digest in a record's last entry; it is removed with the record.

    Without the salt nobody can find out by trying what a digest was made of.
    """

    object_type = models.CharField(max_length=80)
    object_id = models.CharField(max_length=64)
    salt = models.BinaryField(max_length=32)

    class Meta:
        ordering: ClassVar = ["pk"]
        constraints: ClassVar = [
            models.UniqueConstraint(fields=["object_type", "object_id"], name="digest_salt_once_a_record"),
        ]

    def __str__(self) -> str:
        return f"salt of {self.object_type} {self.object_id}"
