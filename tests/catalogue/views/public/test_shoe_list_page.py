from __future__ import annotations

import re

import pytest

from tests.shared import shared


@shared
def three(make_shoe, make_store, put_in_stock):
    store = make_store()
    put_in_stock(store, make_shoe("flexible", stability=45.0, name="Reed", mass_g=240.0), "42", "42.5", "43")
    make_shoe("light", stability=55.0, name="Sedge")
    make_shoe("firm", stability=75.0, name="Alder", use="walking")


def marks(page):
    return re.findall(r'<a class="mark mark--(\d)" href="([^"]+)">', page)


def text(response):
    return response.content.decode()


@pytest.mark.usefixtures("three")
def test_every_published_shoe_is_a_link_on_the_stability_scale_twice_for_two_shapes(client):
    found = marks(text(client.get("/")))
    assert found[:3] == [("1", "/shoes/flexible/"), ("2", "/shoes/light/"), ("4", "/shoes/firm/")]
    assert found[3:] == found[:3]


@pytest.mark.usefixtures("three")
def test_filter_leaves_the_rest_faint_and_without_links(client):
    page = text(client.get("/?band=2"))
    assert marks(page)[:1] == [("2", "/shoes/light/")]
    assert page.count('class="rest"') == 2
    assert len(re.findall(r'<g class="rest" aria-hidden="true"><circle[^>]+><circle[^>]+></g>', page)) == 2
    assert "1 of 3 shoes" in page


@pytest.mark.usefixtures("three")
def test_marks_stay_where_they_are_under_a_filter(client):
    place = r'href="/shoes/light/">.*?<circle cx="([\d.]+)" cy="([\d.]+)"'
    everything, filtered = (re.search(place, text(client.get(address))).groups() for address in ("/", "/?band=2"))
    assert everything == filtered


@pytest.mark.usefixtures("three")
def test_list_says_in_numbers_what_the_drawing_shows(client):
    page = text(client.get("/?order=-stability"))
    names = re.findall(r'<th scope="row"><a href="/shoes/[a-z]+/">(\w+) 1</a>', page)
    assert names == ["Alder", "Sedge", "Reed"]
    assert "45.0 ± 2.0" in page
    assert "EU\u00a042 to 43" in page
    assert "240\u00a0g" in page


@pytest.mark.usefixtures("three")
def test_empty_result_says_what_to_let_go(client):
    page = text(client.get("/?band=2&use=walking"))
    assert "No shoe matches" in page
    assert re.search(r'<a href="/\?use=walking">without “Little hold”</a>: 1 shoe<', page)
    assert re.search(r'<a href="/\?band=2">without “walking”</a>: 1 shoe<', page)
    assert re.search(r'<a href="/">without any filter</a>: 3 shoes<', page)


@pytest.mark.usefixtures("three")
def test_searched_words_are_quoted_once_where_nothing_is_found(client):
    assert "without “zzzz”</a>: 3 shoes<" in text(client.get("/?q=zzzz"))


@pytest.mark.usefixtures("three")
def test_letting_go_that_helps_nothing_is_not_offered(client):
    page = text(client.get("/?band=5&use=standing"))
    assert "No shoe matches" in page
    assert "without “Very strong hold”" not in page


@pytest.mark.usefixtures("three")
def test_htmx_gets_the_results_alone_and_the_counts_beside_the_filters(client):
    response = client.get("/?q=&band=2&order=stability", headers={"HX-Request": "true"})
    page = text(response)
    assert "<html" not in page
    assert "1 of 3 shoes" in page
    assert 'id="count-band-4" hx-swap-oob="true">1<' in page
    assert response.headers["HX-Push-Url"] == "/?band=2"


@pytest.mark.usefixtures("three")
def test_htmx_going_back_gets_the_whole_page(client):
    headers = {"HX-Request": "true", "HX-History-Restore-Request": "true"}
    assert "<html" in text(client.get("/?band=2", headers=headers))


@pytest.mark.usefixtures("three")
def test_bad_filter_is_a_400_that_names_the_value_on_page_and_part(client):
    for headers in ({}, {"HX-Request": "true"}):
        response = client.get("/?mass_max=heavy&band=7", headers=headers)
        assert response.status_code == 400
        assert 'id="error-mass"' in text(response)
        assert "“Mass at most” must be a number from 0 to 2000 g, got “heavy”." in text(response)
        assert re.search(r"“Band” must be one of 1 \(Very little hold\).*, got “7”\.", text(response))
        assert "mass_max must" not in text(response), "the key is for programs"


@pytest.mark.usefixtures("three")
def test_bad_value_is_escaped(client):
    assert "<script>" not in text(client.get("/?store=<script>"))
    assert "<script>alert" not in text(client.get("/?q=<script>alert(1)</script>"))


@pytest.mark.usefixtures("three")
def test_page_after_the_last_leads_to_the_last_with_a_notice(client):
    response = client.get("/?page=99")
    assert response.status_code == 200
    page = text(response)
    assert "Page 99 no longer exists. This is the last page, 1." in page
    assert len(marks(page)) == 6
    assert re.search(r'rel="canonical" href="[^"?]*/">', page)
    assert text(client.get("/stores/harbour/?page=7")).count("Page 7 no longer exists.") == 1
    assert "Page 9 no longer exists." in text(client.get("/shoes/light/similar/?page=9"))


@pytest.mark.usefixtures("three")
def test_link_to_a_closed_store_leads_to_all_stores_with_a_notice(client):
    page = text(client.get("/?store=gone-store&band=1"))
    assert "We no longer have a store “gone-store”. These are the shoes of all stores." in page
    assert "1 of 3 shoes" in page
    assert "gone-store" not in re.search(r'rel="canonical" href="([^"]*)"', page)[1]
    assert client.get("/?store=gone-store&mass_max=heavy").status_code == 400
    part = client.get("/?store=gone-store", headers={"HX-Request": "true"})
    assert "We no longer have a store “gone-store”." in text(part)
    assert part.headers["HX-Push-Url"] == "/"


@pytest.mark.usefixtures("three")
def test_store_chosen_shows_its_sizes_and_no_others(client, make_store, put_in_stock):
    from catalogue.models import Shoe

    put_in_stock(make_store("mill", "Mill"), Shoe.objects.get(slug="flexible"), "39", "39.5")
    assert "EU\u00a039, 39.5, 42 to 43" in text(client.get("/"))
    page = text(client.get("/?store=mill"))
    assert "EU\u00a039, 39.5<" in page
    assert "Sizes in stock at Mill" in page
    for address in ("/shoes/light/similar/?store=mill", "/stores/mill/"):
        page = text(client.get(address))
        assert "EU\u00a039, 39.5<" in page
        assert "42 to 43" not in page
    (shoe,) = client.get("/api/catalogue/shoes/?store=mill").json()["results"]
    assert shoe["stores"] == [{"slug": "mill", "sizes": ["EU 39", "EU 39.5"]}]


@pytest.mark.usefixtures("three")
def test_sizes_are_shown_in_the_readers_system_and_remembered(client):
    page = text(client.get("/?sizes=us-w"))
    assert "about US women’s\u00a010.5, 11" in page
    assert re.search(r'<option value="42">US women’s 10.5 \(EU\s42\)</option>', page)
    assert client.cookies["sizes"].value == "us-w"
    for address in ("/", "/shoes/flexible/", "/stores/harbour/", "/compare/?shoe=flexible&shoe=light"):
        assert "about US women’s\u00a010.5, 11" in text(client.get(address)), address
    assert "foot of about 265 to 272\u00a0mm" in text(client.get("/shoes/flexible/?sizes=mm"))
    stores = client.get("/api/catalogue/shoes/flexible/?sizes=us-w").json()["stores"]
    assert stores[0]["shown"] == "about US women’s 10.5, 11"
    assert stores[0]["known_at"]
    assert "sizes" in client.get("/api/catalogue/shoes/?sizes=jp").json()["fields"]


def test_page_in_another_system_of_sizes_is_another_page(client, make_shoe):
    make_shoe()
    client.get("/")
    tag = client.get("/").headers["ETag"]
    assert client.get("/", headers={"If-None-Match": tag}).status_code == 304
    client.cookies["sizes"] = "uk"
    assert client.get("/", headers={"If-None-Match": tag}).status_code == 200


@pytest.mark.parametrize(
    ("query", "found"),
    [
        ("wearer=women", {"heron", "stork"}), ("wearer=men", {"stork", "crane"}), ("wearer=children", set()),
        ("width=2E", {"heron"}), ("price_max=120", {"heron"}), ("price_min=130&price_max=160", {"crane"}),
        ("photo=yes", set()),
    ],
)  # fmt: skip
def test_wearer_width_price_and_photo_narrow_list_and_api(client, make_shoe, query, found):
    make_shoe("heron", wearer="women", widths=["D", "2E"], list_prices={"EUR": "119.00"})
    make_shoe("stork", widths=["D"])
    make_shoe("crane", wearer="men", list_prices={"EUR": "149.90"})
    page = text(client.get(f"/?{query}"))
    assert set(re.findall(r'name="shoe" value="(\w+)"', page)) == found
    shoes = client.get(f"/api/catalogue/shoes/?{query}").json()["results"]
    assert {shoe["slug"] for shoe in shoes} == found
    if not found:
        assert "No shoe matches" in page
        assert "</a>: 3 shoes" in page
        assert "without any filter" not in page, "without the only one there is none"
    assert 'id="filters-set">1 set<' in page


def test_order_by_price_and_the_price_beside_the_name(client, make_shoe):
    make_shoe("dear", list_prices={"EUR": "149.90"})
    make_shoe("cheap", list_prices={"EUR": "99"})
    make_shoe("unknown")
    page = text(client.get("/?order=price"))
    assert re.findall(r'name="shoe" value="(\w+)"', page) == ["cheap", "dear", "unknown"]
    assert "EUR\u00a0149.90" in page


@pytest.mark.usefixtures("three")
def test_misspelt_name_is_answered_with_what_was_probably_meant(client):
    page = text(client.get("/?q=sdege"))
    assert "We found nothing called “sdege”" in page
    assert '<a href="/?q=sedge">sedge</a>?' in page
    assert "not measured" not in page
    assert client.get("/api/catalogue/shoes/?q=corvnae+alder").json()["did_you_mean"] == "corvane alder"
    assert "did_you_mean" not in client.get("/api/catalogue/shoes/?q=zzzz").json()
    replaced = text(client.get("/replace/?q=aldre"))
    assert "We found nothing called “aldre”" in replaced
    assert 'href="/replace/?q=alder"' in replaced


@pytest.mark.usefixtures("three")
def test_range_that_runs_backwards_is_said_at_its_field_with_the_labels(client):
    response = client.get("/?midfoot_min=60&midfoot_max=40&band=2")
    assert response.status_code == 400
    page = text(response)
    assert '<p class="field__error" id="error-midfoot">“from” (60) must not be above “to” (40).</p>' in page
    assert '<a href="#part-midfoot">Midfoot</a>: “from” (60) must not be above “to” (40).' in page
    assert 'name="midfoot_min" value="60" aria-describedby="error-midfoot" aria-invalid="true"' in page
    assert 'id="band-2" value="2" checked' in page, "the rest of the form stays as it was sent"
    part = text(client.get("/?midfoot_min=60&midfoot_max=40", headers={"HX-Request": "true"}))
    assert 'id="error-midfoot" hx-swap-oob="true">“from” (60)' in part
    assert '<p id="found" hx-swap-oob="innerHTML">1 of these filters can’t be read.</p>' in part
    assert '<a href="#part-mass">Mass at most</a> must be a number' in text(client.get("/?mass_max=heavy"))
    assert '<a href="#part-drop">Drop, to</a> must be a number' in text(client.get("/?drop_max=flat"))


@pytest.mark.usefixtures("three")
def test_heads_of_the_columns_sort_and_say_so(client):
    page = text(client.get("/?order=midfoot&band=1&band=2"))
    assert re.findall(r'aria-sort="(\w+)"><a href="([^"]+)"', page) == [
        ("ascending", "/?band=1&amp;band=2&amp;order=-midfoot")
    ]
    assert 'aria-sort="descending"' in text(client.get("/?order=-mass"))


def test_live_region_says_which_part_of_the_list_is_shown(client, make_shoe):
    for number in range(27):
        make_shoe(f"shoe-{number:02}", stability=55.0)
    part = text(client.get("/?page=2", headers={"HX-Request": "true"}))
    assert '<p id="found" hx-swap-oob="innerHTML">25 to 27 of 27 shoes</p>' in part


def test_each_shoe_has_its_own_outline_and_signature(client, make_shoe):
    make_shoe("thick", stack_heel_mm=42.0, stack_forefoot_mm=34.0, stability=45.0)
    make_shoe("thin", stack_heel_mm=20.0, stack_forefoot_mm=18.0, stability=75.0)
    page = text(client.get("/"))
    soles = re.findall(r'class="look__sole" d="([^"]+)"', page)
    assert len(set(soles)) == 2
    assert len(set(re.findall(r'class="signature"[^>]*><path d="([^"]+)"', page))) == 2


def test_pages_share_no_shoe_and_keep_the_filters(client, make_shoe):
    for number in range(27):
        make_shoe(f"shoe-{number:02}", stability=55.0)
    found = []
    for address in ("/?band=2", "/?band=2&page=2"):
        found.append(set(re.findall(r'name="shoe" value="(shoe-\d\d)"', text(client.get(address)))))
    assert [len(part) for part in found] == [24, 3]
    assert not found[0] & found[1]
    assert 'rel="next" href="?band=2&amp;page=2"' in text(client.get("/?band=2"))
    assert 'rel="prev" href="?band=2"' in text(client.get("/?band=2&page=2"))


@pytest.mark.usefixtures("three")
def test_form_shows_what_is_asked(client):
    page = text(client.get("/?band=2&size=42.5&store=harbour&midfoot_min=40.5&mass_max=300&order=-mass&q=se"))
    assert '<input type="checkbox" name="band" id="band-2" value="2" checked>' in page
    for wanted in ('value="42.5" selected', 'value="harbour" selected', 'value="-mass" selected', 'value="40.5"'):
        assert wanted in page
    assert '<span id="filters-set">5 set</span>' in page
    assert '<details class="filters__all">' in page
    assert '<details class="filters__further" open>' in page, "midfoot is set"
    assert '<details class="filters__further">' in text(client.get("/?mass_max=300"))
    assert '<details class="filters__further" open>' in text(client.get("/?rearfoot_min=high")), "to be corrected"


@pytest.mark.parametrize(
    ("size", "label"),
    [
        ("40.5", "EU 40.5"), ("EU 40,5", "EU 40.5"), ("UK 7", "about EU 40.5 (UK 7)"),
        ("us m 8", "about EU 40.5 (US M 8)"), ("US W 9", "about EU 40.5 (US W 9)"), ("256mm", "about EU 40.5 (256 mm)"),
    ],
)  # fmt: skip
def test_size_in_every_system_narrows_the_list_and_a_converted_one_is_marked(
    client, make_shoe, make_store, put_in_stock, size, label
):
    put_in_stock(make_store(), make_shoe("heron"), "40.5", "41")
    put_in_stock(make_store("mill", "Mill"), make_shoe("stork"), "41")
    make_shoe("crane")
    page = text(client.get("/", {"size": size})).replace("\xa0", " ")
    assert "1 of 3 shoes" in page
    assert re.search(r'<option value="[^"]+" selected>' + re.escape(label) + "<", page)
    assert page.count(">EU 41<") == 1
    assert f">{label} <span" in page.partition('class="chips"')[2]
    near = text(client.get("/shoes/crane/similar/", {"size": size})).replace("\xa0", " ")
    assert "/shoes/heron/" in near
    assert "/shoes/stork/" not in near
    assert f"selected>{label}<" in near


@pytest.mark.usefixtures("three")
@pytest.mark.parametrize("address", ["/", "/shoes/light/similar/"])
def test_size_that_cannot_be_is_a_400_that_names_the_forms(client, address):
    answer = client.get(address, {"size": "UK 44"})
    assert answer.status_code == 400
    assert (
        "“Size in stock” must be written like EU 42.5, UK 8, US M 9, US W 10.5 or 265 mm (EU 15 to 55, UK 1 to"
        in text(answer)
    )


def test_next_page_says_the_size_as_it_was_asked_for(client, make_shoe, make_store, put_in_stock):
    store = make_store()
    for number in range(25):
        put_in_stock(store, make_shoe(f"shoe-{number:02}"), "40.5")
    assert 'rel="next" href="?size=UK+7&amp;page=2"' in text(client.get("/?size=uk7"))
    assert "about EU\xa040.5 (UK 7)" in text(client.get("/?size=UK+7&page=2"))


@pytest.mark.usefixtures("three")
def test_imperial_units_are_shown_by_the_cookie(client):
    client.cookies["units"] = "imperial"
    page = text(client.get("/"))
    assert "8.5\u00a0oz" in page
    assert "0.31\u00a0in" in page


def test_empty_catalogue_says_so(client, db):
    response = client.get("/")
    assert response.status_code == 200
    assert "Nothing is published yet" in text(response)


def test_unpublished_shoe_is_nowhere(client, make_shoe, make_store, put_in_stock):
    put_in_stock(make_store(), make_shoe("hidden", published=False), "42")
    make_shoe("light")
    for address in ("/", "/stores/harbour/", "/compare/", "/shoes/light/similar/", "/api/catalogue/shoes/"):
        assert "hidden" not in text(client.get(address)).replace("visually-hidden", "").replace(
            "aria-hidden", ""
        ).replace('type="hidden"', "").replace('data-most="4" hidden', "")
    for address in ("/shoes/hidden/", "/shoes/hidden/similar/", "/api/catalogue/shoes/hidden/"):
        assert client.get(address).status_code == 404
    assert client.get("/compare/?shoe=hidden").status_code == 400


@pytest.mark.usefixtures("three")
@pytest.mark.parametrize(
    ("query", "said"),
    [
        (
            "order=nonsense",
            "“Sort by” has no choice “nonsense”. Choose one of: stability, lowest first; stability, high",
        ),
        (
            "view=x,%20got%20y",
            "“Drawing” has no choice “x, got y”. Choose one of: Along the scale; Midfoot against rear",
        ),
    ],
)
def test_unknown_choice_is_answered_with_the_words_of_the_page(client, query, said):
    response = client.get(f"/?{query}")
    assert response.status_code == 400
    assert said in text(response)
    assert "-cushioning" not in text(response).partition("can’t be read")[2].partition("</ul>")[0]


@pytest.mark.usefixtures("three")
@pytest.mark.parametrize("method", ["post", "put", "delete", "patch"])
def test_pages_are_for_reading(client, method):
    for address in ("/", "/shoes/light/", "/stores/", "/api/catalogue/shoes/", "/api/catalogue/bands/"):
        # 401: the lab and head office add shoes by the API, once they say who they are.
        assert getattr(client, method)(address).status_code in (401, 403, 405)
