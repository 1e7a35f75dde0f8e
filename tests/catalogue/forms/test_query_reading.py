from __future__ import annotations

from decimal import Decimal

import pytest
from django.http import QueryDict

from catalogue import forms
from catalogue.domain.filters import ShoeFilter
from catalogue.domain.sizes import ReadSize

CHOICES = forms.Choices(
    {1: "Very little hold", 2: "Little hold", 5: "Very strong hold"}, frozenset({"harbour", "mill-lane"})
)

SIZE_WANTED = (
    "size must be written like EU 42.5, UK 8, US M 9, US W 10.5 or 265 mm (EU 15 to 55, UK 1 to 18.5, US M 2 to 19.5, "
    "US W 3 to 20.5, foot length 85 to 350 mm)"
)


def read(query):
    return forms.shoe_filter(QueryDict(query), CHOICES)


def problems_of(query):
    with pytest.raises(forms.BadQuery) as caught:
        read(query)
    return caught.value.problems


def test_empty_query_asks_for_everything():
    assert read("") == ShoeFilter()


def test_blank_values_of_an_untouched_form_ask_for_everything():
    blank = "q=&midfoot_min=&midfoot_max=&size=&store=&order=&page=&band=&use=&mass_max="
    assert read(blank) == ShoeFilter()


def test_unknown_keys_are_let_be():
    assert read("utm=1&bands=9") == ShoeFilter()


def test_every_filter_is_read():
    found = read(
        "band=2&band=very-strong-hold&use=walking&use=running&midfoot_min=40&midfoot_max=60.5&rearfoot_min=-5"
        "&cushioning_max=90&mass_max=300&drop_min=0&drop_max=8&size=EU+42.5&store=harbour&q=lan+tern&order=-mass&page=3"
    )
    assert found == ShoeFilter(
        bands=(2, 5),
        uses=("running", "walking"),
        midfoot_min=40.0,
        midfoot_max=60.5,
        rearfoot_min=-5.0,
        cushioning_max=90.0,
        mass_max=300.0,
        drop_min=0.0,
        drop_max=8.0,
        size=ReadSize(Decimal("42.5"), ""),
        store="harbour",
        q="lan tern",
        order="-mass",
        page=3,
    )


@pytest.mark.parametrize("text", ["42", "EU 42", "eu42", "EU%2042"])
def test_size_may_be_written_with_or_without_eu(text):
    assert read(f"size={text}").size == ReadSize(Decimal("42"), "")


@pytest.mark.parametrize(
    ("text", "size"),
    [
        # (8.5 + 23) barleycorns = 266.7 mm; (266.7 + 15) * 3/20 = 42.26, to the nearest half
        ("UK+8.5", ReadSize(Decimal("42.5"), "UK 8.5")),
        ("us+m+9,5", ReadSize(Decimal("42.5"), "US M 9.5")),
        ("USW11", ReadSize(Decimal("43.0"), "US W 11")),
        ("262+mm", ReadSize(Decimal("41.5"), "262 mm")),
    ],
)
def test_size_of_another_system_is_converted_and_the_address_says_it_again(text, size):
    found = read(f"size={text}")
    assert found.size == size
    assert read(found.query()) == found


@pytest.mark.parametrize(
    "query", ["band=1,2", "band=1&band=2", "band=Very-little-hold&band=LITTLE+HOLD", "band=2&band=1&band=1"]
)
def test_bands_may_be_named_or_numbered_repeated_or_listed(query):
    assert read(query).bands == (1, 2)


@pytest.mark.parametrize(
    ("query", "said"),
    [
        ("band=9", "band must be one of 1 (Very little hold), 2 (Little hold), 5 (Very strong hold), got “9”."),
        ("use=swimming", "use must be one of running, walking, standing, got “swimming”."),
        ("midfoot_min=soft", "midfoot_min must be a number from −1000 to 1000, got “soft”."),
        ("midfoot_min=nan", "midfoot_min must be a number from −1000 to 1000, got “nan”."),
        ("rearfoot_max=inf", "rearfoot_max must be a number from −1000 to 1000, got “inf”."),
        ("rearfoot_max=1e400", "rearfoot_max must be a number from −1000 to 1000, got “1e400”."),
        ("cushioning_min=1_0", "cushioning_min must be a number from −1000 to 1000, got “1_0”."),
        ("mass_max=-1", "mass_max must be a number from 0 to 2000 g, got “-1”."),
        ("mass_max=٣", "mass_max must be a number from 0 to 2000 g, got “٣”."),
        ("price_max=1000001", "price_max must be a number from 0 to 1\u202f000\u202f000, got “1000001”."),
        ("photo=no", "photo must be yes, or left out, got “no”."),
        ("drop_min=121", "drop_min must be a number from −120 to 120 mm, got “121”."),
        ("size=4", f"{SIZE_WANTED}, got “4”."),
        ("size=42.55", f"{SIZE_WANTED}, got “42.55”."),
        ("size=UK+40", f"{SIZE_WANTED}, got “UK 40”."),
        ("size=US+9", f"{SIZE_WANTED}, got “US 9”."),
        ("store=moon", "store must be one of harbour, mill-lane, got “moon”."),
        ("page=0", "page must be a whole number from 1 to 1\u202f000\u202f000, got “0”."),
        ("page=-1", "page must be a whole number from 1 to 1\u202f000\u202f000, got “-1”."),
        ("page=1.5", "page must be a whole number from 1 to 1\u202f000\u202f000, got “1.5”."),
        ("page=" + "9" * 5000, "page must be a whole number from 1 to 1\u202f000\u202f000, got “" + "9" * 40 + "…”."),
        ("q=" + "a" * 81, "q must be at most 80 characters, got “" + "a" * 40 + "…”."),
        ("midfoot_min=60&midfoot_max=50", "midfoot_min (60) must not be above midfoot_max (50)."),
        ("store=harbour&store=mill-lane", "store can be given once, got “harbour” and “mill-lane”."),
    ],
)
def test_bad_value_is_named(query, said):
    assert problems_of(query) == [said]


def test_unknown_order_names_the_accepted_ones():
    (said,) = problems_of("order=colour")
    assert said.startswith("order must be one of -cushioning, -drop,")
    assert said.endswith("got “colour”.")


def test_every_bad_value_is_listed_by_key():
    with pytest.raises(forms.BadQuery) as caught:
        read("band=9&mass_max=x&page=0")
    assert set(caught.value.fields) == {"band", "mass_max", "page"}
    assert (caught.value.status, caught.value.code) == (400, "bad_query")


def test_nul_is_stripped():
    assert read("q=lan%00tern&mass_max=3%0000").q == "lantern"
    assert read("mass_max=3%0000").mass_max == 300.0


def test_control_characters_are_not_echoed():
    (said,) = problems_of("store=a%0d%0ab")
    assert "\r" not in said
    assert "\n" not in said


def test_query_of_a_filter_reads_back_as_the_filter():
    wanted = read("band=2&use=walking&midfoot_min=40.25&mass_max=300&size=42.5&store=harbour&q=a+b&order=-drop&page=2")
    assert read(wanted.query()) == wanted


def test_letting_go_of_a_part_returns_to_the_first_page():
    wanted = read("band=2&drop_min=1&drop_max=9&page=2")
    assert wanted.without("drop") == read("band=2")
    assert wanted.without("band") == read("drop_min=1&drop_max=9")


def test_active_parts_are_named_in_the_order_of_the_form():
    assert read("order=name&page=2").active() == ()
    assert read("mass_max=0&band=1&q=x").active() == ("q", "band", "mass")


@pytest.mark.parametrize(("query", "slugs"), [("", ()), ("shoe=a&shoe=b&shoe=a", ("a", "b")), ("shoe=a,b", ("a", "b"))])
def test_compared_shoes_are_read_once_each_in_order(query, slugs):
    assert forms.compared_slugs(QueryDict(query)) == slugs


@pytest.mark.parametrize(
    ("query", "said"),
    [
        ("shoe=a&shoe=b&shoe=c&shoe=d&shoe=e", "Up to 4 shoes can be compared, got 5. Leave some out."),
        ("shoe=a%20b", "shoe must be the last part of the address of a shoe’s page, got “a b”."),
    ],
)
def test_bad_comparison_is_named(query, said):
    with pytest.raises(forms.BadQuery) as caught:
        forms.compared_slugs(QueryDict(query))
    assert caught.value.problems == [said]


@pytest.mark.parametrize(
    ("query", "field", "value"),
    [
        ("drop_max_in=0.315", "drop_max", 8.001),
        ("drop_min_in=-0.1", "drop_min", -2.54),
        ("mass_max_oz=10", "mass_max", 283.49523125),
    ],
)
def test_key_may_name_another_unit(query, field, value):
    assert getattr(read(query), field) == pytest.approx(value)


@pytest.mark.parametrize(
    ("query", "problem"),
    [
        ("drop_max_in=9", "drop_max_in must be a number from −4.72 to 4.72 in, got “9”."),
        ("mass_max_oz=x", "mass_max_oz must be a number from 0 to 70.54 oz, got “x”."),
        ("mass_max_oz=10&mass_max=300", "mass_max_oz is given in another unit too. Give it once."),
        ("drop_min_in=0.4&drop_max=8", "drop_min (10.16) must not be above drop_max (8)."),
    ],
)
def test_bad_value_in_another_unit_is_named_by_its_key(query, problem):
    with pytest.raises(forms.BadQuery) as caught:
        read(query)
    assert caught.value.problems == [problem]
