"""How many queries each page takes, however many shoes there are: at the first visit after a change, and after it."""

from __future__ import annotations

import pytest
from django.db import connection
from django.test.utils import CaptureQueriesContext

from catalogue import selectors
from catalogue.selectors.public import method

# Read again after a change: which shoes changed (1) and these (1), bands (4), names of stores (1), sizes (1). One of
# each page is the revision.
# Counting what a visitor asks the API is one more; see test_api_throttle.py.
COUNTS = [
    ("/", 10, 1),
    ("/?view=map", 10, 1),
    ("/?band=2&size=42&store=harbour&q=shoe&page=1", 12, 1),
    ("/shoes/shoe-00/", 13, 7),
    ("/shoes/shoe-00/similar/", 10, 6),
    ("/shoes/shoe-00/similar/?size=42", 11, 7),
    ("/compare/?shoe=shoe-00&shoe=shoe-01", 11, 5),
    ("/replace/?q=shoe", 4, 2),
    ("/stores/", 2, 1),
    ("/stores/harbour/", 9, 5),
    ("/how-we-measure/", 6, 2),
    ("/sitemap.xml", 3, 1),
    ("/sitemap-1.xml", 5, 1),
    ("/robots.txt", 0, 0),
    ("/api/catalogue/shoes/?page_size=500", 10, 3),
    ("/api/catalogue/shoes/shoe-00/", 3, 3),
    ("/api/catalogue/shoes/shoe-00/similar/", 5, 3),
    ("/api/catalogue/shoes/shoe-00/curves/", 6, 4),
    ("/api/catalogue/bands/", 5, 1),
    ("/api/catalogue/stores/", 2, 1),
]


@pytest.fixture
def fill(make_shoe, make_store, put_in_stock):
    store = make_store()

    def add(numbers):
        for number in numbers:
            shoe = make_shoe(f"shoe-{number:02}", stability=52.0 + number / 10)
            put_in_stock(store, shoe, "42", "43")

    return add


def queries_of(client, address):
    with CaptureQueriesContext(connection) as captured:
        assert client.get(address).status_code == 200
    return len(captured)


@pytest.mark.parametrize(("address", "first", "then"), COUNTS)
def test_queries_do_not_grow_with_the_shoes(client, fill, address, first, then, monkeypatch, settings):
    settings.API_VISITOR_REQUESTS_PER_MINUTE = 0
    monkeypatch.setattr(method, "_labs", [])  # what the lab adds to the pages is its own to count
    selectors.columns_at(selectors.revision())  # what a process reads once
    for numbers in (range(3), range(3, 12)):
        fill(numbers)
        assert (queries_of(client, address), queries_of(client, address)) == (first, then)
