"""Uploads, and the files of a preview that are not stored as uploads yet."""

from __future__ import annotations

import uuid

from django.db.models import QuerySet
from django.http import Http404

from core.models import User
from labtests.models import StagedUpload, Upload
from labtests.models.uploads import CLIMATE


def all_uploads() -> QuerySet[Upload]:
    return Upload.objects.select_related("by").defer("data")


def upload_get(pk: int) -> Upload:
    upload = all_uploads().filter(pk=pk).first()
    if upload is None:
        raise Http404
    return upload


def upload_bytes(upload: Upload) -> bytes:
    return bytes(Upload.objects.values_list("data", flat=True).get(pk=upload.pk))


def staged_batch(batch: uuid.UUID, user: User) -> list[StagedUpload]:
    """Find the files that somebody is looking at, in the order they were chosen; others' are not there for them."""
    return list(StagedUpload.objects.filter(batch=batch, by=user).exclude(source=CLIMATE).order_by("pk"))


def staged_climate(batch: uuid.UUID, user: User) -> StagedUpload | None:
    """Find a logger's file that somebody is looking at; others' are not there for them."""
    return StagedUpload.objects.filter(batch=batch, by=user, source=CLIMATE).first()
