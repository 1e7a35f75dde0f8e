from __future__ import annotations

from catalogue import method
from catalogue.method import MethodTable


def test_stores_are_listed_with_what_they_hold(client, make_shoe, make_store, put_in_stock):
    store = make_store()
    make_store("mill-lane", "Mill Lane")
    put_in_stock(store, make_shoe(), "42")
    page = client.get("/stores/").content.decode()
    assert "1 measured shoe in stock" in page
    assert "0 measured shoes in stock" in page
    assert '<a href="/stores/mill-lane/">Mill Lane</a>' in page


def test_store_shows_its_own_sizes_only(client, make_shoe, make_store, put_in_stock):
    shoe = make_shoe()
    put_in_stock(make_store(), shoe, "42")
    put_in_stock(make_store("mill-lane", "Mill Lane"), shoe, "44")
    page = client.get("/stores/harbour/").content.decode()
    assert "EU\u00a042<" in page
    assert "44" not in page


def test_store_without_stock_says_so(client, make_store):
    make_store()
    assert b"No measured shoe is in stock here" in client.get("/stores/harbour/").content


def test_no_store_says_so(client, db):
    assert b"No store is listed yet" in client.get("/stores/").content


def test_method_page_has_bands_formulas_and_cautions(client, make_shoe):
    make_shoe()
    page = client.get("/how-we-measure/").content.decode()
    for words in ("50 to below 60", "below 50", "80 and above", "P1, S1, S1", "100 · (", "licensed clinician"):
        assert words in page
    assert "without a published source" in page


def test_method_page_shows_what_the_lab_registers(client, db, monkeypatch):
    monkeypatch.setattr(method, "_sources", [])
    table = MethodTable("Anchors of S1", "Our own.", ("Reading", "0", "100"), (("torque", "0 N·m", "9.04 N·m"),))

    def source(units):
        return [table]

    method.register_source(source)
    method.register_source(source)
    page = client.get("/how-we-measure/").content.decode()
    assert page.count("Anchors of S1</caption>") == 1
    assert "9.04 N·m" in page
