"""The pictures of previews, opened by a library that did not draw them."""

from __future__ import annotations

import io
import re

import numpy as np
import pytest
from PIL import Image

from catalogue.drawings.letters import dots, known


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
    assert f'"image": "{said["image"]}"' in page


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
    colours = {colour for _, colour in opened(client.get("/picture.png")).getcolors()}
    assert len(colours) == 6, "paper, ink, soft ink and three bands"
    assert "/picture.png" in client.get("/").content.decode()


def test_picture_of_a_shoe_that_is_not_published_is_not_there(client, make_shoe):
    make_shoe("hidden", published=False)
    for slug in ("hidden", "no-such"):
        assert client.get(f"/shoes/{slug}/picture.png").status_code == 404


def test_letters_differ_from_each_other_and_unknown_ones_are_blank():
    letters = "ABCDEFGHIJKLMNOPQRSTUVWXYZ0123456789.,+±/':&()%-"
    assert len({dots(letter).tobytes() for letter in letters}) == len(letters)
    assert known("Café – 1") == "CAFE   1"
    assert not np.any(dots("日 "))
