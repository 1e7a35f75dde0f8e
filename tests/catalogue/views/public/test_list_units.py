"""Numbers of the filters in the reader's units; the address says the unit where it is not the catalogue's."""

from __future__ import annotations

import re

import pytest

from tests.shared import shared


@shared
def shoes(make_shoe):
    make_shoe("light", name="Reed", mass_g=240.0)
    make_shoe("heavy", name="Alder", mass_g=320.0)


@pytest.fixture
def imperial(client, shoes):
    client.cookies["units"] = "imperial"
    return client


def fields_of(page):
    return dict(re.findall(r'<input type="number"[^>]* name="([^"]+)" value="([^"]*)"', page))


def test_form_is_in_the_units_of_the_reader(client, imperial):
    page = imperial.get("/?mass_max=283.49523125&drop_max=7.62").content.decode()
    fields = fields_of(page)
    assert (fields["mass_max_oz"], fields["drop_max_in"], fields["drop_min_in"]) == ("10", "0.3", "")
    assert "mass_max" not in fields
    for words in ('Mass at most <span class="field__optional">(oz)', "(in)", "mass up to 10 oz", "drop up to 0.3 in"):
        assert words in page
    client.cookies["units"] = "metric"
    fields = fields_of(client.get("/?mass_max_oz=10").content.decode())
    assert (fields["mass_max"], fields["drop_max"]) == ("283.49523125", "")


def test_both_addresses_find_the_same_and_the_canonical_one_is_in_grams(imperial):
    page = imperial.get("/?mass_max_oz=10").content.decode()
    assert "1 of 2 shoes" in page
    assert re.search(r'rel="canonical" href="[^"]*/\?mass_max=283\.49523125"', page)


def test_numbers_survive_the_way_through_the_form(imperial):
    """What a reader typed comes back as typed, however often the form is sent."""
    for typed in ("9.3", "0.1", "11.25", "8"):
        page = imperial.get(f"/?mass_max_oz={typed}").content.decode()
        assert fields_of(page)["mass_max_oz"] == typed
        (canonical,) = re.findall(r'rel="canonical" href="[^"]*(/\?[^"]+)"', page)
        assert fields_of(imperial.get(canonical).content.decode())["mass_max_oz"] == typed


def test_part_pushes_the_address_in_grams(imperial):
    response = imperial.get("/?drop_max_in=0.3", headers={"HX-Request": "true"})
    assert response.headers["HX-Push-Url"] == "/?drop_max=7.62"


def test_bad_number_in_ounces_is_refused_by_its_label(imperial):
    response = imperial.get("/?mass_max_oz=heavy")
    assert response.status_code == 400
    assert "“Mass at most” must be a number from 0 to 70.54 oz" in response.content.decode()
