"""A photo's row and its files change together, in any storage; what is left over is removed later."""

from __future__ import annotations

import datetime as dt
import errno
from unittest.mock import Mock

import pytest
from django.core.files.base import ContentFile
from django.core.files.storage import InMemoryStorage, default_storage
from django.core.management import call_command
from django.db import transaction

from catalogue.models import CatalogueRevision, ShoePhoto
from catalogue.services import PhotoOvertaken, photo_describe, photo_remove, photo_set, shoe_merge
from catalogue.services.records import photo_files
from catalogue.services.records.photo_files import FOLDER, StorageFailed
from core.audit.verification import faults
from core.domain.errors import DomainError
from core.models import AuditEntry
from tests.catalogue.photo_files import encoded, picture

JPEG = encoded(picture())
OTHER = encoded(picture(seed=2))


@pytest.fixture(params=["memory", "folder"])
def storage(request, settings, tmp_path):
    """A bucket has no paths, so what works in memory, where asking for a path is an error, works there."""
    settings.STORAGES = settings.STORAGES | {
        "default": {"BACKEND": "django.core.files.storage.InMemoryStorage"}
        if request.param == "memory"
        else {"BACKEND": "django.core.files.storage.FileSystemStorage", "OPTIONS": {"location": str(tmp_path)}}
    }
    return default_storage


def stored():
    try:
        return sorted(default_storage.listdir(FOLDER)[1])
    except FileNotFoundError:
        return []


def names(photo):
    return sorted(f"{photo.folder_key}-{width}.webp" for width in photo.widths_px)


def actions():
    return list(
        AuditEntry.objects.filter(action__startswith="catalogue.photo").order_by("id").values_list("action", flat=True)
    )


def test_photo_is_stored_in_its_widths_and_audited(storage, make_shoe, publisher):
    photo = photo_set(actor=publisher, shoe=make_shoe(), data=JPEG, alternative_text="Side view")
    assert (photo.widths_px, photo.heights_px) == ([400, 800, 900], [267, 533, 600])
    assert stored() == names(photo)
    entry = AuditEntry.objects.get(action="catalogue.photo.added")
    assert entry.content["after"]["digest"] == photo.digest
    assert list(faults()) == []


def test_new_photo_removes_the_files_of_the_old_one(storage, make_shoe, publisher, django_capture_on_commit_callbacks):
    shoe = make_shoe()
    first = photo_set(actor=publisher, shoe=shoe, data=JPEG, alternative_text="Side view")
    with django_capture_on_commit_callbacks(execute=True):
        second = photo_set(actor=publisher, shoe=shoe, data=OTHER, alternative_text="Better", seen=first.digest)
    assert second.digest != first.digest
    assert stored() == names(second)
    assert actions() == ["catalogue.photo.added", "catalogue.photo.replaced"]


def test_old_files_stay_until_the_change_is_final(storage, make_shoe, publisher):
    shoe = make_shoe()
    first = photo_set(actor=publisher, shoe=shoe, data=JPEG, alternative_text="Side view")
    before = stored()
    with transaction.atomic():
        photo_remove(actor=publisher, shoe=shoe, seen=first.digest)
        transaction.set_rollback(True)
    assert stored() == before
    assert ShoePhoto.objects.filter(shoe=shoe).exists()


def test_removed_photo_leaves_no_file(storage, make_shoe, publisher, django_capture_on_commit_callbacks):
    shoe = make_shoe()
    photo = photo_set(actor=publisher, shoe=shoe, data=JPEG, alternative_text="Side view")
    with django_capture_on_commit_callbacks(execute=True):
        photo_remove(actor=publisher, shoe=shoe, seen=photo.digest)
    assert stored() == []
    assert not ShoePhoto.objects.exists()
    assert actions()[-1] == "catalogue.photo.removed"
    assert list(faults()) == []


def test_same_picture_of_two_shoes_has_files_for_each(
    storage, make_shoe, publisher, django_capture_on_commit_callbacks
):
    one, other = make_shoe("corvane-lantern-1"), make_shoe("corvane-lantern-2")
    first = photo_set(actor=publisher, shoe=one, data=JPEG, alternative_text="Side view")
    second = photo_set(actor=publisher, shoe=other, data=JPEG, alternative_text="Side view")
    assert first.digest == second.digest
    with django_capture_on_commit_callbacks(execute=True):
        photo_remove(actor=publisher, shoe=one, seen=first.digest)
    assert stored() == names(second)


def test_refused_photo_writes_nothing(storage, make_shoe, publisher):
    shoe = make_shoe()
    with pytest.raises(DomainError, match="not a photo"):
        photo_set(actor=publisher, shoe=shoe, data=b"no photo", alternative_text="Side view")
    with pytest.raises(DomainError):
        photo_set(actor=publisher, shoe=shoe, data=JPEG, alternative_text="")
    assert (stored(), ShoePhoto.objects.count(), actions()) == ([], 0, [])


def test_second_of_two_people_is_refused_and_leaves_nothing(storage, make_shoe, publisher):
    shoe = make_shoe()
    first = photo_set(actor=publisher, shoe=shoe, data=JPEG, alternative_text="Side view")
    with pytest.raises(PhotoOvertaken):
        photo_set(actor=publisher, shoe=shoe, data=OTHER, alternative_text="Mine", seen="")
    with pytest.raises(PhotoOvertaken):
        photo_describe(actor=publisher, shoe=shoe, alternative_text="Mine", seen="0" * 32)
    assert stored() == names(first)
    assert ShoePhoto.objects.get().alternative_text == "Side view"


def test_text_is_changed_alone(storage, make_shoe, publisher):
    shoe = make_shoe()
    photo = photo_set(actor=publisher, shoe=shoe, data=JPEG, alternative_text="Side view")
    photo_describe(actor=publisher, shoe=shoe, alternative_text="Left shoe", seen=photo.digest)
    photo_describe(actor=publisher, shoe=shoe, alternative_text="Left shoe", seen=photo.digest)
    assert ShoePhoto.objects.get().alternative_text == "Left shoe"
    assert actions() == ["catalogue.photo.added", "catalogue.photo.described"]


def failing_from(monkeypatch, place, problem):
    saved, save = [], default_storage.save

    def fail(name, content, **more):
        saved.append(name)
        if len(saved) >= place:
            raise problem
        return save(name, content, **more)

    monkeypatch.setattr(default_storage._wrapped, "save", fail)


@pytest.mark.parametrize("number", [errno.ENOSPC, errno.EROFS, errno.EACCES])
@pytest.mark.parametrize("place", [1, 3])
def test_full_or_read_only_storage_is_a_clear_error(storage, make_shoe, publisher, monkeypatch, number, place, caplog):
    shoe = make_shoe()
    assert stored() == []  # the storage is there before it is replaced
    failing_from(monkeypatch, place, OSError(number, "no"))
    with pytest.raises(StorageFailed, match=r"full, read-only or can’t be reached. Nothing was changed"):
        photo_set(actor=publisher, shoe=shoe, data=JPEG, alternative_text="Side view")
    assert (stored(), ShoePhoto.objects.count()) == ([], 0)
    assert "could not be stored" in caplog.text


def test_errors_of_a_bucket_are_the_same_error(settings, make_shoe, publisher, monkeypatch):
    from botocore.exceptions import ClientError, EndpointConnectionError

    settings.STORAGES = settings.STORAGES | {"default": {"BACKEND": "django.core.files.storage.InMemoryStorage"}}
    shoe = make_shoe()
    for problem in (
        ClientError({"Error": {"Code": "AccessDenied"}}, "PutObject"),
        EndpointConnectionError(endpoint_url="https://bucket.invalid"),
    ):
        monkeypatch.setattr(InMemoryStorage, "_save", Mock(side_effect=problem))
        with pytest.raises(StorageFailed):
            photo_set(actor=publisher, shoe=shoe, data=JPEG, alternative_text="Side view")


def test_files_that_no_shoe_has_are_removed_after_a_day(storage, make_shoe, publisher, monkeypatch, capsys):
    photo = photo_set(actor=publisher, shoe=make_shoe(), data=JPEG, alternative_text="Side view")
    for name in (f"{FOLDER}/{'a' * 16}-400.webp", f"{FOLDER}/not ours.txt"):
        default_storage.save(name, ContentFile(b"left behind"))
    call_command("remove_orphan_photos")
    assert len(stored()) == 5
    monkeypatch.setattr(photo_files, "timezone", _Later)
    call_command("remove_orphan_photos")
    assert "1 files without a shoe removed." in capsys.readouterr().out
    assert stored() == sorted([*names(photo), "not ours.txt"])


class _Later:
    @staticmethod
    def now():
        return dt.datetime.now(dt.UTC) + dt.timedelta(days=2)


def test_empty_storage_has_no_orphans(storage, db, capsys):
    call_command("remove_orphan_photos")
    assert "0 files" in capsys.readouterr().out


def test_photo_changes_the_revision_of_pages_and_of_the_shoe_that_lists_show(storage, make_shoe, publisher):
    shoe = make_shoe()
    before = CatalogueRevision.objects.get()
    photo_set(actor=publisher, shoe=shoe, data=JPEG, alternative_text="Side view")
    after = CatalogueRevision.objects.get()
    assert (after.number > before.number, after.shoes_number > before.shoes_number) == (True, True)


def test_merged_duplicate_gives_its_photo_to_the_shoe_that_stays(storage, make_shoe, publisher):
    stays, duplicate = make_shoe("corvane-lantern-1"), make_shoe("corvane-lantern-2", published=False)
    photo_set(actor=publisher, shoe=duplicate, data=JPEG, alternative_text="Side view")
    shoe_merge(actor=publisher, duplicate=duplicate, into=stays, reason="the same shoe")
    assert ShoePhoto.objects.get().shoe == stays
    assert list(faults()) == []
