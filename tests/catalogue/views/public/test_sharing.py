"""What pages say of themselves, what a device may keep of the site, and the shoes that a visitor remembers."""

from __future__ import annotations

import io
import json
import re
from decimal import Decimal

import numpy as np
import pytest
from PIL import Image, ImageColor

from tests.catalogue.views.public.test_discovery_addresses import locations, product_of

SITE = "https://shoes.example"


@pytest.fixture(autouse=True)
def at_site(settings):
    settings.SITE_URL = SITE


def head_of(client, address):
    page = client.get(address).content.decode().replace("\u00a0", " ")
    said = dict(re.findall(r'<meta (?:name|property)="([a-z:]+)" content="([^"]*)"', page))
    return said | {"title": re.search(r"<title>([^<]*)</title>", page)[1]}


@pytest.fixture
def shoes(make_shoe, make_store):
    make_store()
    for slug, stability in (("one", 55.0), ("two", 65.0)):
        make_shoe(slug, stability=stability)


@pytest.mark.parametrize(
    ("address", "title"),
    [
        ("/", "Shoes on the stability scale · Benchlast"),
        ("/?band=2&use=running", "Shoes: Little hold, running · Benchlast"),
        ("/?q=<b>", "Shoes: “&lt;b&gt;” · Benchlast"),
        ("/shoes/one/", "Corvane one 1, Little hold · Benchlast"),
        ("/compare/?shoe=one&shoe=two", "Compare Corvane one 1 and Corvane two 1 · Benchlast"),
        ("/compare/", "Compare shoes · Benchlast"),
    ],
)
def test_title_names_the_filter_the_band_and_the_shoes(client, shoes, address, title):
    assert head_of(client, address)["title"] == title


@pytest.mark.parametrize(
    ("address", "canonical"),
    [
        ("/?page=1&band=2", "/?band=2"),
        ("/shoes/one/?from=elsewhere", "/shoes/one/"),
        ("/shoes/one/similar/", "/shoes/one/similar/"),
        ("/compare/?shoe=two&shoe=one&shoe=two", "/compare/?shoe=two&amp;shoe=one"),
        ("/replace/", "/replace/"),
        ("/stores/", "/stores/"),
        ("/stores/harbour/", "/stores/harbour/"),
        ("/how-we-measure/", "/how-we-measure/"),
        ("/start/", "/start/"),
        ("/start/ask/", "/start/ask/"),
    ],
)
def test_every_public_page_says_its_address_and_what_a_preview_shows(client, shoes, address, canonical):
    page, said = client.get(address).content.decode(), head_of(client, address)
    assert re.findall(r'<link rel="canonical" href="([^"]+)"', page) == [SITE + canonical]
    assert said["og:url"] == SITE + canonical
    assert said["description"] == said["og:description"] != ""
    assert said["og:title"]
    assert said["og:image"].startswith(SITE)
    assert client.get(said["og:image"].removeprefix(SITE)).status_code == 200


def test_prices_become_offers_of_the_stores_that_have_the_shoe(client, make_shoe, make_store, settings):
    from tests.stock import stock_set

    settings.CURRENCY = "EUR"
    shoe = make_shoe("priced", list_prices={"EUR": Decimal("139.90")})
    assert "offers" not in product_of(client, "priced")
    stock_set(actor=None, store=make_store(), shoe=shoe, size_eu=Decimal(42), quantity=1)
    offers = product_of(client, "priced")["offers"]
    assert (offers["@type"], offers["lowPrice"], offers["priceCurrency"]) == ("AggregateOffer", "139.90", "EUR")
    (offer,) = offers["offers"]
    assert offer["seller"]["url"] == f"{SITE}/stores/harbour/"


def test_store_is_described_with_its_address(client, make_store):
    from core.models import Store

    make_store()
    Store.objects.update(street="Quay </script> 4", postcode="10115", town="Harbourtown", phone="030 123")
    page = client.get("/stores/harbour/").content.decode()
    (text,) = re.findall(r'<script type="application/ld\+json">(.*?)</script>', page, flags=re.DOTALL)
    store = json.loads(text)
    assert (store["@type"], store["telephone"]) == ("ShoeStore", "030 123")
    assert store["address"]["streetAddress"] == "Quay </script> 4"
    assert '<a href="tel:030123">030 123</a>' in page


def test_sitemap_says_when_a_shoe_was_published_last(client, make_shoe):
    shoe = make_shoe("one")
    day = shoe.score_cards.get(is_current=True).published_at
    text = client.get("/sitemap-1.xml").content.decode()
    assert f"<loc>{SITE}/shoes/one/</loc><lastmod>{day:%Y-%m-%d}</lastmod>" in text
    assert f"<loc>{SITE}/stores/</loc></url>" in text
    assert len(locations(client.get("/sitemap-1.xml"))) == 5


def test_robots_are_kept_from_what_is_for_staff(client, db):
    text = client.get("/robots.txt").content.decode()
    for closed in ("/wall/", "/lab/", "/office/", "/staff/", "/catalogue/", "/account/", "/screen/"):
        assert f"Disallow: {closed}\n" in text


def test_manifest_names_icons_that_are_there_in_their_sizes(client, db):
    manifest = json.loads(client.get("/site.webmanifest").content)
    for entry in manifest["icons"]:
        picture = Image.open(io.BytesIO(client.get(entry["src"]).content))
        assert "x".join(map(str, picture.size)) == entry["sizes"]
    assert {entry["purpose"] for entry in manifest["icons"]} == {"any", "maskable"}
    assert client.get("/icons/icon-64.png").status_code == 404
    assert client.get("/icons/other-192.png").status_code == 404


def test_icon_is_our_mark_and_a_maskable_one_leaves_its_edge_empty(client, db):
    paper = ImageColor.getrgb("#faf6ee")
    plain, masked = (
        np.array(Image.open(io.BytesIO(client.get(f"/icons/{kind}-512.png").content)).convert("RGB"))
        for kind in ("icon", "maskable")
    )
    used = [np.argwhere((icon != paper).any(axis=2)) for icon in (plain, masked)]
    assert all(len(points) > 10_000 for points in used)
    # A circle of 0.4 of the side is never cut off (W3C manifest, "safe zone").
    assert np.hypot(*(used[1] - 256).T).max() < 0.4 * 512
    assert np.hypot(*(used[0] - 256).T).max() > np.hypot(*(used[1] - 256).T).max()
    for colour in ("#a8cfdc", "#023c4b", "#23211d"):
        assert (plain == ImageColor.getrgb(colour)).all(axis=2).any()


def test_service_worker_keeps_one_page_and_its_files_and_nothing_else(client, db):
    response = client.get("/service-worker.js")
    assert response.headers["Content-Type"].startswith("text/javascript")
    text = response.content.decode()
    files = re.findall(r'^  "(/static/[^"]+)",$', text, re.MULTILINE)
    assert len(files) == 6
    assert 'const PAGE = "/offline/";' in text
    assert "http" not in text
    page = client.get("/offline/").content.decode()
    assert 'id="seen"' in page
    assert "data-visitor" in page


def test_script_of_visitors_is_not_for_staff_pages(client, cast):
    client.force_login(cast.fitter_a)
    assert "catalogue/visitor.js" not in client.get("/fittings/").content.decode()
    assert 'data-visitor="yes"' not in client.get("/").content.decode()


def test_remembered_shoes_are_named_by_the_address(client, shoes, django_assert_max_num_queries):
    with django_assert_max_num_queries(5):
        page = client.get("/remembered/?shoe=two&shoe=gone&shoe=one").content.decode()
    assert page.index("Corvane two 1") < page.index("Corvane one 1")
    assert "Not published at present: gone." in page
    assert 'href="/compare/?shoe=two&amp;shoe=one"' in page
    assert 'href="/remembered/?shoe=one"' in page
    assert 'data-remembered=""' in client.get("/remembered/").content.decode()


@pytest.mark.parametrize(
    "query", ["?shoe=%C3%A9", "?shoe=a%20b", "?shoe=%2F", "?" + "&".join(f"shoe=s{n}" for n in range(25))]
)
def test_address_of_remembered_shoes_that_makes_no_sense_is_refused(client, db, query):
    assert client.get(f"/remembered/{query}").status_code == 400


def test_shoe_can_be_remembered_without_a_script(client, shoes):
    page = client.get("/shoes/one/").content.decode()
    assert re.search(r'data-remember data-slug="one"[^>]*href="/remembered/\?shoe=one"', page)
