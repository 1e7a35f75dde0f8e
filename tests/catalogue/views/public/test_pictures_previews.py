"""The pictures of previews, opened by a library that did not draw them."""

from __future__ import annotations

import io
import re

import pytest
from PIL import Image, ImageColor

from catalogue.drawings.lettering import drawable, font, lines_of
from catalogue.drawings.pictures import BANDS


def opened(response):
    assert (response.status_code, response.headers["Content-Type"]) == (200, "image/png")
    picture = Image.open(io.BytesIO(response.content))
    picture.load()
    return picture


def test_picture_of_a_shoe_is_a_png_of_the_size_that_the_page_says(client, make_shoe):
    make_shoe(stability=72.4)
    page = client.get("/shoes/corvane-lantern-1/").content.decode()
    said = dict(re.findall(r'<meta property="og:(image[:a-z]*)" content="([^"]*)">', page))
    picture = opened(client.get(re.sub(r"^https?://[^/]+", "", said["image"])))
    assert (picture.format, picture.size) == ("PNG", (int(said["image:width"]), int(said["image:height"])))
    assert said["image:alt"].startswith("Corvane corvane-lantern-1 1, band")
    assert f'"image": ["{said["image"]}"]' in page


def test_picture_changes_with_the_score_and_is_answered_304_until_then(client, make_shoe, publisher, scores_for):
    from catalogue.services import score_card_publish

    shoe = make_shoe()
    client.get("/")
    first = client.get("/shoes/corvane-lantern-1/picture.png")
    again = client.get("/shoes/corvane-lantern-1/picture.png", headers={"If-None-Match": first.headers["ETag"]})
    assert (again.status_code, again.content) == (304, b"")
    score_card_publish(actor=publisher, shoe=shoe, scores=scores_for(81.0), reason="again")
    changed = client.get("/shoes/corvane-lantern-1/picture.png", headers={"If-None-Match": first.headers["ETag"]})
    assert opened(changed).tobytes() != opened(first).tobytes()


@pytest.mark.parametrize(
    ("name", "stability"),
    [("Ü" * 60, -40.0), ("日本", 300.0), ("a", 50.0), ("x" * 60, 100.0)],
)
def test_any_name_and_score_can_be_drawn(client, make_shoe, name, stability, scores_for):
    make_shoe("odd", name=name, scores=scores_for(stability, stability_u=None))
    opened(client.get("/shoes/odd/picture.png"))


def test_picture_of_the_catalogue_counts_shoes(client, make_shoe):
    assert client.get("/picture.png").status_code == 404
    for number in range(3):
        make_shoe(f"shoe-{number}", stability=45.0 + 10 * number)
    colours = {colour for _, colour in opened(client.get("/picture.png")).getcolors(maxcolors=10_000)}
    assert [name for name in BANDS if ImageColor.getrgb(name) in colours] == list(BANDS[:3]), "three bands and no other"
    assert "/picture.png" in client.get("/").content.decode()


def test_picture_of_a_shoe_that_is_not_published_is_not_there(client, make_shoe):
    make_shoe("hidden", published=False)
    for slug in ("hidden", "no-such"):
        assert client.get(f"/shoes/{slug}/picture.png").status_code == 404


def test_photo_takes_the_place_of_the_outline(client, make_shoe, publisher, settings):
    from catalogue.services import photo_set
    from tests.catalogue.photo_files import encoded, picture

    settings.STORAGES = settings.STORAGES | {"default": {"BACKEND": "django.core.files.storage.InMemoryStorage"}}
    shoe = make_shoe()
    box = (720, 80, 1120, 310)
    outline = opened(client.get("/shoes/corvane-lantern-1/picture.png")).crop(box)
    photo_set(actor=publisher, shoe=shoe, data=encoded(picture()), alternative_text="from the left")
    assert opened(client.get("/shoes/corvane-lantern-1/picture.png")).crop(box).tobytes() != outline.tobytes()


def test_borderline_is_written_on_the_picture(client, make_shoe, scores_for):
    make_shoe("sure", scores=scores_for(59.0))
    make_shoe("unsure", scores=scores_for(59.0, band_probability=0.6, is_borderline=True, neighbour=3))
    places = (60, 200, 1140, 370)
    sure, unsure = (opened(client.get(f"/shoes/{slug}/picture.png")).crop(places) for slug in ("sure", "unsure"))
    ink = ImageColor.getrgb("#23211d")
    counts = [sum(count for count, colour in picture.getcolors(10**6) if colour == ink) for picture in (sure, unsure)]
    assert counts[1] > counts[0] + 200


def test_every_letter_that_is_drawn_has_a_form_of_its_own_and_unknown_ones_are_blank():
    letters = "ABCDEFGHIJKLMNOPQRSTUVWXYZabcdefghijklmnopqrstuvwxyz0123456789.,+±/':&()%-"
    forms = {bytes(font(40).getmask(letter)) for letter in letters}
    assert len(forms) == len(letters)
    assert drawable("Café – 1") == "Cafe - 1"
    assert drawable("日 ").strip() == ""


def test_long_names_are_broken_and_made_smaller():
    lines, size = lines_of("Meadowlark Overstride Endurance Longhaul 12", 64, 600)
    assert len(lines) == 2
    assert size < 64
    assert all(font(size).getlength(line) <= 600 for line in lines)
