"""A shoe that is gone: selection it, its next version, and what one can buy that measures most like it."""

from __future__ import annotations

import re

import pytest

from tests.shared import shared


def plain(response):
    assert response.status_code == 200
    return re.sub(r"\s+", " ", re.sub(r"<[^>]+>", " ", response.content.decode())).replace("\u00a0", " ")


@shared
def shoes(make_shoe, make_store, put_in_stock, scores_for):
    harbour, mill = make_store(), make_store("mill-lane", "Mill Lane")
    old = make_shoe("old", name="Lantern", stability=55.0, is_discontinued=True)
    scores = scores_for(61.0, midfoot=57.4, rearfoot=64.0, cushioning=60.0)
    new = make_shoe("new", name="Lantern", version="2", previous=old, scores=scores, mass_g=292.0)
    near = make_shoe("near", name="Sedge", stability=55.5)
    make_shoe("gone-too", name="Reed", stability=55.1, is_discontinued=True)
    make_shoe("sold-out", name="Alder", stability=55.2)
    put_in_stock(harbour, new, "42")
    put_in_stock(mill, near, "43")
    put_in_stock(harbour, old, "44")


def near_shoes(client, query=""):
    page = client.get(f"/shoes/old/similar/{query}").content.decode()
    return re.findall(r'<h2 id="near-\d+"><a href="/shoes/([\w-]+)/">', page)


@pytest.mark.usefixtures("shoes")
def test_shoe_that_is_gone_leads_to_what_one_can_buy(client):
    page = client.get("/shoes/old/").content.decode()
    assert re.search(r'discontinued this shoe\. <a href="/shoes/old/similar/">', page)
    assert near_shoes(client) == ["near", "new"]
    assert "Discontinued: what to try instead" in plain(client.get("/shoes/old/similar/"))


@pytest.mark.usefixtures("shoes")
def test_near_shoes_can_be_narrowed_to_size_and_store_or_widened_to_all(client):
    assert near_shoes(client, "?size=42") == ["new"]
    assert near_shoes(client, "?store=mill-lane") == ["near"]
    assert near_shoes(client, "?store=mill-lane&size=42") == []
    assert near_shoes(client, "?available=no") == ["gone-too", "sold-out", "near", "new"]
    assert "Nothing like that is in stock" in plain(client.get("/shoes/old/similar/?size=40"))
    response = client.get("/shoes/old/similar/?size=42&available=no")
    assert response.status_code == 400
    assert "“Only what is in stock” must be yes, or left out" in response.content.decode()


@pytest.mark.usefixtures("shoes")
def test_next_version_says_what_changed_beyond_the_uncertainty(client):
    for address in ("/shoes/old/", "/shoes/old/similar/"):
        page = plain(client.get(address))
        assert "Followed by Corvane Lantern 2 . What changed:" in page
        assert "holds the foot more (stability, +6.0 ± 2.8)" in page
        assert "firmer at the heel (rearfoot, +11.0 ± 4.0)" in page
        assert "heavier (as stated, +12 g)" in page
        assert "No measurable difference in midfoot, cushioning and drop." in page
    assert "Follows Corvane Lantern 1" in plain(client.get("/shoes/new/"))
    assert "holds the foot more (stability, +6.0 ± 2.8)" in plain(client.get("/shoes/new/"))


@pytest.mark.usefixtures("shoes")
def test_each_near_shoe_says_in_words_what_differs(client):
    page = plain(client.get("/shoes/new/similar/"))
    assert "lets the foot roll more (stability, −5.5 ± 2.8)" in page
    assert "Share of the distance" in page


@pytest.mark.usefixtures("shoes")
def test_shoe_is_found_by_name_the_gone_ones_first(client):
    page = client.get("/replace/").content.decode()
    assert re.findall(r'href="/shoes/([\w-]+)/similar/\?available=yes"', page) == ["old", "gone-too"]
    found = client.get("/replace/?q=corv").content.decode()
    assert re.findall(r'href="/shoes/([\w-]+)/similar/\?available=yes"', found)[:2] == ["old", "gone-too"]
    assert "new" in re.findall(r'href="/shoes/([\w-]+)/similar/\?available=yes"', found)
    assert "We found nothing called" in plain(client.get("/replace/?q=unheard"))


def test_page_of_an_empty_catalogue_still_asks(client, db):
    assert "Your shoe" in plain(client.get("/replace/"))
