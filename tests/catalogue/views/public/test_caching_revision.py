from __future__ import annotations

import pytest

from catalogue import selectors
from catalogue.models import Shoe
from core.models import Store


def test_revision_moves_with_every_change_the_catalogue_shows(make_shoe, make_store, put_in_stock):
    seen = [selectors.revision()]

    def moved():
        seen.append(selectors.revision())
        return len(set(seen)) == len(seen)

    shoe = make_shoe()
    assert moved()
    store = make_store()
    assert moved()
    put_in_stock(store, shoe, "42")
    assert moved()
    Shoe.objects.filter(pk=shoe.pk).update(mass_g=300.0)
    assert moved(), "an update past the services must count too"
    Store.objects.filter(pk=store.pk).update(name="Quay")
    assert moved()


def test_reading_does_not_move_the_revision(client, make_shoe):
    make_shoe()
    before = selectors.revision()
    client.get("/")
    assert selectors.revision() == before


ADDRESSES = [
    "/",
    "/?band=2",
    "/?view=map",
    "/replace/",
    "/sitemap-1.xml",
    "/shoes/corvane-lantern-1/",
    "/shoes/corvane-lantern-1/similar/",
    "/compare/?shoe=corvane-lantern-1",
    "/stores/",
    "/stores/harbour/",
    "/how-we-measure/",
    "/api/catalogue/shoes/",
    "/api/catalogue/shoes/corvane-lantern-1/",
    "/api/catalogue/shoes/corvane-lantern-1/similar/",
    "/api/catalogue/bands/",
    "/api/catalogue/stores/",
]


@pytest.mark.parametrize("address", ADDRESSES)
def test_unchanged_page_is_answered_with_304_until_something_changes(
    client, make_shoe, make_store, address, django_assert_num_queries, settings
):
    settings.API_VISITOR_REQUESTS_PER_MINUTE = 0
    make_store()
    shoe = make_shoe()
    client.get(address)
    first = client.get(address)
    assert first.status_code == 200
    tag = first.headers["ETag"]
    # The revision; the page on the method asks the lab for its versions, temperature study and worn specimens too.
    with django_assert_num_queries(5 if address == "/how-we-measure/" else 1):
        again = client.get(address, headers={"If-None-Match": tag})
    assert (again.status_code, again.content, again.headers["ETag"]) == (304, b"", tag)
    Shoe.objects.filter(pk=shoe.pk).update(mass_g=300.0)
    changed = client.get(address, headers={"If-None-Match": tag})
    assert changed.status_code == 200
    assert changed.headers["ETag"] != tag


def test_refused_query_has_no_tag(client, db):
    for address in ("/?page=x", "/api/catalogue/shoes/?page=x"):
        response = client.get(address)
        assert response.status_code == 400
        assert "ETag" not in response.headers


def test_page_of_somebody_signed_in_is_never_taken_from_a_copy(client, cast, make_shoe):
    make_shoe()
    client.force_login(cast.office)
    assert "ETag" not in client.get("/").headers


def test_tag_of_a_page_differs_by_units(client, make_shoe):
    make_shoe()
    client.get("/")
    metric = client.get("/").headers["ETag"]
    client.cookies["units"] = "imperial"
    assert client.get("/").headers["ETag"] != metric


def test_caches_know_what_a_page_depends_on(client, make_shoe):
    make_shoe()
    response = client.get("/")
    assert {"Cookie", "HX-Request"} <= {part.strip() for part in response.headers["Vary"].split(",")}
    assert "no-cache" in response.headers["Cache-Control"]
