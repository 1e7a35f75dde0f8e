"""A first visit stays light: the page with everything that it loads, compressed, without photos."""

from __future__ import annotations

import gzip
import re
from pathlib import Path

import pytest
from django.contrib.staticfiles import finders

from tests.shared import shared

MOST_BYTES = 70_000


def weight_of(client, address):
    """Bytes of a page and of each file that its head names, as they are sent."""
    response = client.get(address, headers={"Accept-Encoding": "gzip"})
    assert response.headers["Content-Encoding"] == "gzip"
    page = gzip.decompress(response.content).decode()
    files = re.findall(r'<(?:link|script)[^>]*(?:href|src)="/static/([^"]+)"', page)
    assert "css/tokens.css" in files
    assert "catalogue/visitor.js" in files
    weights = {name: len(gzip.compress(Path(finders.find(name)).read_bytes())) for name in files}
    for name in re.findall(r'<img[^>]*src="/static/([^"]+)"', page):
        weights[name] = len(gzip.compress(Path(finders.find(name)).read_bytes()))
    return len(response.content) + sum(weights.values())


@shared
def shoes(make_shoe, make_store):
    """Fifty shoes, of which the list draws all and names twenty-four."""
    make_store()
    for number in range(50):
        make_shoe(f"shoe-{number}", name=f"Meadowlark {number}", stability=38.0 + number)


@pytest.mark.parametrize("address", ["/", "/shoes/shoe-7/", "/compare/?shoe=shoe-1&shoe=shoe-2", "/start/"])
def test_first_visit_weighs_little(client, shoes, address):
    assert weight_of(client, address) <= MOST_BYTES
