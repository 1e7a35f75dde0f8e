"""The page that sets a photo, the photo on the shoe's page, and the address of its files."""

from __future__ import annotations

import json
import re

import pytest
from django.core.files.storage import default_storage
from django.core.files.uploadedfile import SimpleUploadedFile
from django.db import connection
from django.test.utils import CaptureQueriesContext

from catalogue.models import ShoePhoto
from catalogue.services import photo_set
from tests.catalogue.photo_files import decoded, encoded, picture

PAGE = "/catalogue/shoes/corvane-lantern-1/photo/"
SHOE = "/shoes/corvane-lantern-1/"
JPEG = encoded(picture())


@pytest.fixture(autouse=True)
def _storage(settings):
    settings.STORAGES = settings.STORAGES | {"default": {"BACKEND": "django.core.files.storage.InMemoryStorage"}}


@pytest.fixture
def lab(cast, sign_in):
    return sign_in(cast.technician)


@pytest.fixture
def shoe(make_shoe):
    return make_shoe()


@pytest.fixture
def photo(shoe):
    return photo_set(actor=None, shoe=shoe, data=JPEG, alternative_text="A low grey shoe <from the side>")


def upload(data=JPEG, name="IMG_1.jpg"):
    return SimpleUploadedFile(name, data, content_type="image/jpeg")


def address(photo, width=400):
    return f"/photos/{photo.digest}-{width}.webp"


def test_upload_shows_the_photo_on_the_public_page(lab, client, shoe):
    answer = lab.post(PAGE, {"photo": upload(), "alternative_text": "A low shoe", "seen": ""})
    assert (answer.status_code, answer.headers["Location"]) == (302, PAGE)
    photo = ShoePhoto.objects.get()
    lab.logout()
    page = client.get(SHOE).content.decode()
    image = re.search(r"<img src=\"/photos/[^>]+>", page)[0]
    assert 'alt="A low shoe"' in image
    assert 'width="900" height="600"' in image
    assert [f"{address(photo, width)} {width}w" in image for width in (400, 800, 900)] == [True] * 3
    assert "there is no photo yet" not in page


def test_page_of_a_shoe_without_a_photo_has_a_drawing_by_its_stack_heights(client, make_shoe):
    make_shoe("one", name="One", stack_heel_mm=40.0, stack_forefoot_mm=33.0)
    make_shoe("two", name="Two", stack_heel_mm=20.0, stack_forefoot_mm=16.0)
    pages = [client.get(f"/shoes/{slug}/").content.decode() for slug in ("one", "two")]
    assert 'aria-label="Drawing of a shoe: heel 40.0\xa0mm, forefoot 33.0\xa0mm"' in pages[0]
    soles = [re.search(r'<path d="([^"]+)" fill="currentColor" fill-opacity=".72"/>', page)[1] for page in pages]
    assert soles[0] != soles[1]


def test_drawing_says_no_heights_that_are_not_stated(client, make_shoe):
    make_shoe(stack_heel_mm=None, stack_forefoot_mm=None)
    assert 'aria-label="Drawing of a shoe"' in client.get(SHOE).content.decode()


def test_text_is_escaped(client, photo):
    assert 'alt="A low grey shoe &lt;from the side&gt;"' in client.get(SHOE).content.decode()


def test_page_already_read_is_not_unchanged_after_a_new_photo(client, shoe):
    client.get(SHOE)  # sets the cookie of the forms
    etag = client.get(SHOE).headers["ETag"]
    assert client.get(SHOE, headers={"If-None-Match": etag}).status_code == 304
    photo_set(actor=None, shoe=shoe, data=JPEG, alternative_text="A low shoe")
    assert client.get(SHOE, headers={"If-None-Match": etag}).status_code == 200


def test_file_may_be_stored_for_a_year(client, photo):
    answer = client.get(address(photo))
    assert answer.status_code == 200
    assert answer.headers["Content-Type"] == "image/webp"
    assert answer.headers["Cache-Control"] == "public, max-age=31536000, immutable"
    assert decoded(answer.content).size == (400, 267)
    again = client.get(address(photo), headers={"If-None-Match": answer.headers["ETag"]})
    assert (again.status_code, again.content) == (304, b"")


def test_file_takes_one_query(client, photo):
    with CaptureQueriesContext(connection) as captured:
        client.get(address(photo))
    assert len(captured) == 1


@pytest.mark.parametrize("wrong", ["/photos/{0}-401.webp", "/photos/{1}-400.webp", "/photos/x-99999999999999.webp"])
def test_unknown_file_is_not_there(client, photo, wrong):
    assert client.get(wrong.format(photo.digest, "0" * 32)).status_code == 404


def test_photo_of_an_unpublished_shoe_is_for_those_who_change_shoes(client, cast, make_shoe):
    photo = photo_set(actor=None, shoe=make_shoe(published=False), data=JPEG, alternative_text="Draft")
    assert client.get(address(photo)).status_code == 404
    for name, status in {"fitter_a": 404, "technician": 200, "office": 200}.items():
        client.force_login(cast.members()[name])
        answer = client.get(address(photo))
        assert answer.status_code == status, name
    assert answer.headers["Cache-Control"] == "private, no-store"


def test_file_that_is_gone_from_storage_is_not_there(client, photo):
    default_storage.delete(f"shoe-photos/{photo.folder_key}-400.webp")
    assert client.get(address(photo)).status_code == 404


def test_storage_out_of_reach_is_unavailable_and_not_stored(client, photo, monkeypatch, caplog):
    def fail(name, mode="rb"):
        raise OSError(5, "Input/output error")

    monkeypatch.setattr(default_storage._wrapped, "open", fail)
    answer = client.get(address(photo))
    assert (answer.status_code, answer.headers["Cache-Control"]) == (503, "no-store")


@pytest.mark.parametrize(
    ("data", "words"),
    [
        (b"GIF89a", "GIF files are not read"),
        (b"<svg/>", "a drawing (SVG), not a photo"),
        (b"", "The file is empty"),
        (JPEG[:-3000], "damaged or incomplete"),
    ],
)
def test_refused_photo_is_explained_on_the_page(lab, shoe, data, words):
    answer = lab.post(PAGE, {"photo": upload(data), "alternative_text": "A low shoe", "seen": ""})
    assert answer.status_code == 400
    assert words in answer.content.decode()
    assert 'value="A low shoe"' in answer.content.decode()
    assert not ShoePhoto.objects.exists()


def test_full_storage_is_explained_on_the_page(lab, shoe, monkeypatch, caplog):
    def fail(name, content, **more):
        raise OSError(28, "No space left on device")

    assert not default_storage.exists("x")
    monkeypatch.setattr(default_storage._wrapped, "save", fail)
    answer = lab.post(PAGE, {"photo": upload(), "alternative_text": "A low shoe", "seen": ""})
    assert answer.status_code == 400
    assert "The place for uploads is full, read-only or can’t be reached" in answer.content.decode()


def test_photo_and_text_are_asked_for(lab, shoe):
    answer = lab.post(PAGE, {})
    assert answer.status_code == 400
    for words in ("Choose a file for “Photo”.", "Fill in “What it shows”."):
        assert answer.content.decode().count(words) == 2, "above the form and at the field"


def test_text_can_be_changed_alone_and_the_photo_removed(lab, photo):
    lab.post(PAGE, {"alternative_text": "Another text", "seen": photo.digest})
    assert ShoePhoto.objects.get().alternative_text == "Another text"
    page = lab.post(PAGE, {"do": "remove", "seen": photo.digest}, follow=True).content.decode()
    assert "The photo was removed." in page
    assert not ShoePhoto.objects.exists()


def test_second_of_two_people_is_shown_the_first_ones_photo(lab, photo):
    answer = lab.post(PAGE, {"photo": upload(encoded(picture(seed=3))), "alternative_text": "Mine", "seen": ""})
    page = answer.content.decode()
    assert answer.status_code == 400
    assert "Somebody changed this photo after you opened the page" in page
    assert address(photo) in page
    assert f'name="seen" value="{photo.digest}"' in page
    refused = lab.post(PAGE, {"do": "remove", "seen": "0" * 32}, follow=True).content.decode()
    assert "Somebody changed this photo" in refused


def test_page_is_linked_from_the_shoe_for_staff(lab, shoe):
    assert f'href="{PAGE}"' in lab.get("/catalogue/shoes/corvane-lantern-1/").content.decode()


def test_shoe_that_is_not_there(lab):
    assert lab.get("/catalogue/shoes/no-such/photo/").status_code == 404


def test_page_takes_as_many_queries_with_and_without_a_photo(lab, photo):
    def queries():
        with CaptureQueriesContext(connection) as captured:
            assert lab.get(PAGE).status_code == 200
        return len(captured)

    queries()
    with_photo = queries()
    ShoePhoto.objects.all().delete()
    assert (with_photo, queries()) == (5, 5)


def test_photo_is_in_the_api_and_in_what_machines_read_of_the_page(client, photo, make_shoe):
    make_shoe("plain")
    rows = {row["slug"]: row for row in client.get("/api/catalogue/shoes/").json()["results"]}
    assert rows["plain"]["photo"] is None
    files = rows["corvane-lantern-1"]["photo"]["files"]
    assert [file["width_px"] for file in files] == [400, 800, 900]
    assert files[0]["url"].endswith(address(photo))
    assert rows["corvane-lantern-1"]["photo"]["alternative_text"] == photo.alternative_text
    page = client.get("/shoes/corvane-lantern-1/").content.decode()
    said = json.loads(re.search(r'ld\+json">(.*?)</script>', page)[1])
    assert said["image"][0] == files[-1]["url"]
