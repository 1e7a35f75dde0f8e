"""What machines read: schema.org, previews, canonical addresses, robots.txt, sitemaps."""

from __future__ import annotations

import json
import re
from xml.etree import ElementTree

import pytest

from catalogue.views.public import discovery

SITE = "https://shoes.example"


@pytest.fixture(autouse=True)
def at_site(settings):
    settings.SITE_URL = SITE


def product_of(client, slug):
    page = client.get(f"/shoes/{slug}/").content.decode()
    (text,) = re.findall(r'<script type="application/ld\+json">(.*?)</script>', page, flags=re.DOTALL)
    return json.loads(text)


def test_shoe_is_a_product_with_its_scores(client, make_shoe):
    make_shoe(name="Lantern", stability=55.04)
    product = product_of(client, "corvane-lantern-1")
    assert (product["@context"], product["@type"]) == ("https://schema.org", "Product")
    assert product["name"] == "Corvane Lantern 1"
    assert product["brand"] == {"@type": "Brand", "name": "Corvane"}
    assert product["url"] == f"{SITE}/shoes/corvane-lantern-1/"
    assert product["weight"] == {"@type": "QuantitativeValue", "value": 280.0, "unitCode": "GRM"}
    values = {part["name"]: part["value"] for part in product["additionalProperty"]}
    assert values["Stability score"] == 55.0
    assert values["Drop"] == 8.0
    assert "offers" not in product
    assert "aggregateRating" not in product


def test_what_is_not_known_is_left_out(client, make_shoe, scores_for):
    make_shoe(mass_g=None, stack_heel_mm=None, scores=scores_for(55.0, stability_u=None))
    product = product_of(client, "corvane-lantern-1")
    assert "weight" not in product
    stability, *rest = product["additionalProperty"]
    assert "description" not in stability
    assert "Drop" not in [part["name"] for part in rest]


def test_name_of_a_shoe_cannot_end_the_data(client, make_shoe):
    make_shoe(name="</script><script>alert(1)</script>&")
    assert "</script><script>alert" in product_of(client, "corvane-lantern-1")["name"]
    assert "<script>alert" not in client.get("/shoes/corvane-lantern-1/").content.decode()


def test_page_says_its_address_and_what_a_preview_shows(client, make_shoe):
    make_shoe(name="Lantern")
    page = client.get("/shoes/corvane-lantern-1/?from=elsewhere").content.decode().replace("\u00a0", " ")
    assert f'<link rel="canonical" href="{SITE}/shoes/corvane-lantern-1/">' in page
    assert '<meta property="og:title" content="Corvane Lantern 1">' in page
    assert re.search(
        r'<meta property="og:description" content="Corvane Lantern 1, band Little hold: stability 55.0 ± 2.0', page
    )
    assert "Scores describe a shoe on the bench, not a person." in page


def test_list_has_one_address_for_one_filter(client, make_shoe):
    make_shoe()
    addresses = {
        re.search(r'<link rel="canonical" href="([^"]+)"', client.get(asked).content.decode())[1]
        for asked in ("/?band=little-hold&q=", "/?q=&band=2&order=stability", "/?page=1&band=2&view=scale")
    }
    assert addresses == {f"{SITE}/?band=2"}


def test_robots_are_sent_to_the_sitemap_and_kept_from_people(client, db):
    text = client.get("/robots.txt").content.decode()
    assert f"Sitemap: {SITE}/sitemap.xml" in text
    for closed in ("/lab/", "/fittings/", "/f/", "/outcomes/"):
        assert f"Disallow: {closed}\n" in text


def locations(response):
    assert response.status_code == 200
    assert response.headers["Content-Type"].startswith("application/xml")
    return [found.text for found in ElementTree.fromstring(response.content).findall(".//{*}loc")]


def test_sitemap_leads_to_every_published_shoe(client, make_shoe, make_store):
    make_store()
    make_shoe("one")
    make_shoe("hidden", published=False)
    assert locations(client.get("/sitemap.xml")) == [f"{SITE}/sitemap-1.xml"]
    found = locations(client.get("/sitemap-1.xml"))
    assert f"{SITE}/shoes/one/" in found
    assert f"{SITE}/stores/harbour/" in found
    assert f"{SITE}/shoes/hidden/" not in found
    assert len(found) == len(set(found)) == 6


def test_long_sitemap_comes_in_parts(client, make_shoe, monkeypatch):
    monkeypatch.setattr(discovery, "PART", 2)
    for number in range(5):
        make_shoe(f"shoe-{number}")
    parts = locations(client.get("/sitemap.xml"))
    assert len(parts) == 3
    found = [place for part in parts for place in locations(client.get(part.removeprefix(SITE)))]
    assert {f"{SITE}/shoes/shoe-{number}/" for number in range(5)} <= set(found)
    assert client.get("/sitemap-4.xml").status_code == 404
    assert client.get("/sitemap-0.xml").status_code == 404


def test_sitemap_of_an_empty_catalogue_has_the_other_pages(client, db):
    assert f"{SITE}/how-we-measure/" in locations(client.get("/sitemap-1.xml"))
