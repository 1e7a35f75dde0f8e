"""Photos of shoes: the row in the database and the files in storage change together.

Files are written before the row and removed after it, so that a row never names a file that is not there. What a
stopped process leaves behind is removed by `photos_tidy`.
"""

from __future__ import annotations

import datetime as dt
import secrets
from functools import partial

from django.db import transaction
from django.utils import timezone

from catalogue.domain.photos import PreparedPhoto, prepare
from catalogue.models import Shoe, ShoePhoto
from catalogue.services.records import photo_files
from catalogue.services.records.merging import register_mover
from catalogue.services.rights import needs
from core import audit
from core.database.validation import check
from core.domain.errors import DomainError
from core.models import User

ORPHAN_AGE = dt.timedelta(days=1)


class PhotoOvertaken(DomainError):
    """Somebody else changed the photo between its being seen and being changed."""

    def __init__(self) -> None:
        super().__init__(
            "Somebody changed this photo after you opened the page. Nothing was saved: look at it as it is now, and "
            "save again if you still want to.",
            code="overtaken",
            status=409,
        )


def _locked(shoe: Shoe, seen: str) -> ShoePhoto | None:
    """Return the photo, held until the end of the transaction, if it still is the one that was seen."""
    # The shoe, because where there is no photo yet there is no row of it to hold.
    Shoe.objects.select_for_update(no_key=True).get(pk=shoe.pk)
    photo = ShoePhoto.objects.filter(shoe=shoe).first()
    if (photo.digest if photo else "") != seen:
        raise PhotoOvertaken
    return photo


@needs("catalogue.shoe:write")
def photo_set(*, actor: User | None, shoe: Shoe, data: bytes, alternative_text: str, seen: str = "") -> ShoePhoto:
    """Give a shoe a photo, or another one.

    Parameters
    ----------
    data : the file as it was sent
    seen : the digest of the photo that is to be replaced; empty where there is none

    Raises
    ------
    DomainError
        Where the file is not a photo that can be taken, or can't be stored.
    PhotoOvertaken
        Where the shoe has another photo by now.
    """
    prepared, key = prepare(data), secrets.token_hex(8)
    photo_files.write(key, prepared.renditions)
    try:
        return _photo_save(actor, shoe, prepared, (key, alternative_text), seen)
    except BaseException:
        photo_files.remove(photo_files.names_of(key, [rendition.width_px for rendition in prepared.renditions]))
        raise


@transaction.atomic
def _photo_save(
    actor: User | None, shoe: Shoe, prepared: PreparedPhoto, words: tuple[str, str], seen: str
) -> ShoePhoto:
    photo = _locked(shoe, seen)
    before = audit.snapshot(photo) if photo else None
    replaced = photo_files.names_of(photo.folder_key, photo.widths_px) if photo else []
    photo = photo or ShoePhoto(shoe=shoe)
    photo.digest, (photo.folder_key, photo.alternative_text) = prepared.digest, words
    photo.widths_px = [rendition.width_px for rendition in prepared.renditions]
    photo.heights_px = [rendition.height_px for rendition in prepared.renditions]
    photo.set_at, photo.set_by = timezone.now(), actor
    check(photo)
    photo.save()
    action = "catalogue.photo.replaced" if before else "catalogue.photo.added"
    audit.record(actor=actor, action=action, subject=photo, before=before)
    transaction.on_commit(partial(photo_files.remove, replaced))
    return photo


def _existing(shoe: Shoe, seen: str) -> ShoePhoto:
    photo = _locked(shoe, seen)
    if photo is None:
        raise DomainError("This shoe has no photo.", code="no_photo", status=409)
    return photo


@needs("catalogue.shoe:write")
@transaction.atomic
def photo_describe(*, actor: User, shoe: Shoe, alternative_text: str, seen: str) -> ShoePhoto:
    """Change what a photo is said to show."""
    photo = _existing(shoe, seen)
    if photo.alternative_text == alternative_text:
        return photo
    before = audit.snapshot(photo)
    photo.alternative_text = alternative_text
    check(photo)
    photo.save(update_fields=["alternative_text"])
    audit.record(actor=actor, action="catalogue.photo.described", subject=photo, before=before)
    return photo


@needs("catalogue.shoe:write")
@transaction.atomic
def photo_remove(*, actor: User, shoe: Shoe, seen: str) -> None:
    """Remove a photo with its files; the shoe's page shows a drawing again."""
    photo = _existing(shoe, seen)
    before, pk = audit.snapshot(photo), photo.pk
    names = photo_files.names_of(photo.folder_key, photo.widths_px)
    photo.delete()
    photo.pk = pk
    audit.record(actor=actor, action="catalogue.photo.removed", subject=photo, before=before)
    transaction.on_commit(partial(photo_files.remove, names))


def photo_move(*, actor: User, duplicate: Shoe, into: Shoe, reason: str) -> None:
    """Give a duplicate's photo to the shoe that stays, unless that has one of its own."""
    photo = ShoePhoto.objects.select_for_update().filter(shoe=duplicate).first()
    if photo is None or ShoePhoto.objects.filter(shoe=into).exists():
        return
    before = audit.snapshot(photo)
    photo.shoe = into
    photo.save(update_fields=["shoe"])
    audit.record(actor=actor, action="catalogue.photo.moved", subject=photo, before=before, reason=reason)


register_mover(photo_move)


def photos_tidy() -> int:
    """Remove the files that no photo has, a day after they were written; return how many."""
    files = photo_files.names_older_than(ORPHAN_AGE)
    used = set(ShoePhoto.objects.values_list("folder_key", flat=True))
    orphans = [name for name, key in files.items() if key not in used]
    photo_files.remove(orphans)
    return len(orphans)
