"""Whatever a band, brand, shoe or store is called, its pages are drawn."""

from __future__ import annotations

import pytest
from django.utils.html import escape

from catalogue.models import Band, Brand, Shoe
from core.models import Store

NAMES = ["Firm (marks)", "Soft \ue000words\ue000", "{{ form.url }} {% raise %}", "<b>&\"'"]
ADDRESSES = [
    "/",
    "/?view=map",
    "/?band=2&store=harbour&size=42",
    "/shoes/reed/",
    "/shoes/reed/similar/",
    "/stores/harbour/",
]


@pytest.mark.parametrize("name", NAMES)
def test_pages_show_any_name_as_it_is_written(client, make_shoe, make_store, put_in_stock, name):
    put_in_stock(make_store(), make_shoe("reed"), "42")
    Band.objects.filter(order=2).update(name=name)
    Brand.objects.update(name=name)
    Shoe.objects.update(name=name)
    Store.objects.update(name=name)
    for _ in range(2):
        for address in ADDRESSES:
            page = client.get(address)
            assert page.status_code == 200, address
            text = page.content.decode().replace("&#34;", "&quot;").replace("&#39;", "&#x27;")
            assert escape(name) in text, address
            assert "<b>&" not in text
