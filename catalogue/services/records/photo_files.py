"""The files of photos in storage: a folder or a bucket, so nothing here knows of paths of this machine."""

from __future__ import annotations

import datetime as dt
import logging
import re
import sys
from collections.abc import Iterable, Sequence

from django.core.files.base import ContentFile
from django.core.files.storage import default_storage
from django.utils import timezone

from catalogue.domain.photos import Rendition
from core.domain.errors import DomainError

FOLDER = "shoe-photos"
_NAME = re.compile(r"([0-9a-f]{16})-\d+\.webp")
logger = logging.getLogger(__name__)


def _failures() -> tuple[type[Exception], ...]:
    """Return what storage raises; the errors of S3 exist only once its library is loaded."""
    s3 = sys.modules.get("botocore.exceptions")
    return (OSError,) if s3 is None else (OSError, s3.BotoCoreError, s3.ClientError)


class StorageFailed(DomainError):
    """The photo could not be stored or read, for reasons outside the application."""

    def __init__(self, what: str) -> None:
        message = (
            f"{what} The place for uploads is full, read-only or can’t be reached. Nothing was changed: try again "
            "later, or ask whoever runs the server."
        )
        super().__init__(message, code="storage_failed", status=409, fields={"photo": [message]})


def name_of(key: str, width_px: int) -> str:
    return f"{FOLDER}/{key}-{width_px}.webp"


def names_of(key: str, widths_px: Sequence[int]) -> list[str]:
    return [name_of(key, width) for width in widths_px]


def write(key: str, renditions: Sequence[Rendition]) -> None:
    """Store a photo in all its widths, or nothing of it.

    Raises
    ------
    StorageFailed
        Where one of the files can't be written; those before it are removed again.
    """
    try:
        for rendition in renditions:
            default_storage.save(name_of(key, rendition.width_px), ContentFile(rendition.data))
    except _failures() as problem:
        logger.exception("A photo could not be stored.")
        remove(names_of(key, [rendition.width_px for rendition in renditions]))
        raise StorageFailed("The photo could not be stored.") from problem


def read(key: str, width_px: int) -> bytes:
    """Return one file of a photo.

    Raises
    ------
    FileNotFoundError
        Where it is gone.
    StorageFailed
        Where storage can't be reached.
    """
    try:
        with default_storage.open(name_of(key, width_px)) as file:
            return bytes(file.read())
    except FileNotFoundError:
        raise
    except _failures() as problem:
        logger.exception("A photo could not be read.")
        raise StorageFailed("The photo could not be read.") from problem


def remove(names: Iterable[str]) -> None:
    """Remove files; one that can't be removed now is left to `remove_orphan_photos`."""
    for name in names:
        try:
            default_storage.delete(name)
        except _failures():
            logger.warning("The file %s could not be removed.", name, exc_info=True)


def names_older_than(age: dt.timedelta) -> dict[str, str]:
    """Return the files that were stored longer ago than this, each with the key of its photo."""
    before = timezone.now() - age
    try:
        _, names = default_storage.listdir(FOLDER)
        return {
            f"{FOLDER}/{name}": found[1]
            for name in names
            if (found := _NAME.fullmatch(name)) and default_storage.get_modified_time(f"{FOLDER}/{name}") < before
        }
    except FileNotFoundError:
        return {}
    except _failures() as problem:
        raise StorageFailed("The photos could not be listed.") from problem
