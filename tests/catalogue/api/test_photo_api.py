"""A shoe's photo over the API."""

from __future__ import annotations

import pytest
from django.core.files.uploadedfile import SimpleUploadedFile

from catalogue.models import ShoePhoto
from tests.catalogue.photo_files import encoded, picture

JPEG = encoded(picture())


@pytest.fixture(autouse=True)
def _storage(settings):
    settings.STORAGES = settings.STORAGES | {"default": {"BACKEND": "django.core.files.storage.InMemoryStorage"}}


@pytest.fixture
def address(make_shoe):
    return f"/api/catalogue/shoes/{make_shoe(published=False).slug}/photo/"


@pytest.fixture
def lab(cast, api_for):
    return api_for(cast.technician)


def sent(data=JPEG, **words):
    return {"photo": SimpleUploadedFile("IMG_1.jpg", data), "alternative_text": "from the side", **words}


def test_photo_is_set_described_replaced_and_removed(lab, address):
    assert (lab.get(address).status_code, lab.get(address).json()["code"]) == (404, "no_photo")
    first = lab.put(address, sent(), format="multipart").json()
    assert first["alternative_text"] == "from the side"
    assert [file["width_px"] for file in first["files"]] == ShoePhoto.objects.get().widths_px
    assert lab.get(address).json() == first
    words = {"alternative_text": "a low grey shoe", "seen": first["digest"]}
    assert lab.put(address, words, format="multipart").json() == first | {"alternative_text": "a low grey shoe"}
    other = lab.put(address, sent(encoded(picture(900, 500)), seen=first["digest"]), format="multipart").json()
    assert other["digest"] != first["digest"]
    overtaken = lab.put(address, sent(seen=first["digest"]), format="multipart")
    assert (overtaken.status_code, overtaken.json()["code"]) == (409, "overtaken")
    assert lab.delete(address, {"seen": first["digest"]}, format="multipart").status_code == 409
    assert lab.delete(address, {"seen": other["digest"]}, format="multipart").status_code == 204
    assert not ShoePhoto.objects.exists()


def test_what_is_no_photo_is_refused_at_its_field(lab, address):
    for body, field in [
        (sent(b"<svg/>"), "photo"),
        ({"photo": "words", "alternative_text": "x"}, "photo"),
        (sent(alternative_text=""), "alternative_text"),
        (sent(width="9"), "width"),
    ]:
        answer = lab.put(address, body, format="multipart")
        assert (answer.status_code, list(answer.json()["fields"])) == (400, [field]), answer.content
    described = lab.put(address, {"alternative_text": "x"}, format="multipart")
    assert (described.status_code, described.json()["code"]) == (409, "no_photo")
    assert not ShoePhoto.objects.exists()


def test_only_those_who_may_change_shoes_set_photos(api_for, cast, address):
    for user in (cast.fitter_a, cast.manager_a):
        assert api_for(user).put(address, sent(), format="multipart").status_code == 403
