"""Whatever is in the query string: a page or a 400 that says why, never a failure."""

from __future__ import annotations

import re
from urllib.parse import quote, urlencode

import pytest
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st

RANGES = [f"{name}_{end}" for name in ("midfoot", "rearfoot", "cushioning", "drop") for end in ("min", "max")]
KEYS = [*RANGES, "band", "use", "mass_max", "size", "store", "q", "order", "page", "page_size", "shoe", "view"]
KEYS += ["sizes", "wearer", "width", "photo", "price_min", "price_max", "weigh"]
KEYS += ["available", "unknown", "mass_max_oz", "drop_min_in", "drop_max_in"]
NASTY = ["", "\x00", "1\x00", "nan", "-inf", "1e308", "9" * 400, "-0", "0", "1", "2", "EU 42", "42.5", "42,5", "'; --"]
NASTY += [
    "%",
    "_",
    "\\",
    "../..",
    "<b>",
    "\u202e",
    "\ue000words\ue000",
    "\ud7ff",
    "\U0001f45f",
    "light",
    "running",
    "-mass",
    "a" * 5000,
    "yes",
    "no",
    "map",
    "a & b | !c:*",
    "' \\\\ '",
    "٣",
]
values = st.sampled_from(NASTY) | st.text(max_size=20) | st.floats().map(str) | st.integers().map(str)
queries = st.lists(st.tuples(st.sampled_from(KEYS), values), max_size=8)

ADDRESSES = [
    "/",
    "/compare/",
    "/replace/",
    "/robots.txt",
    "/sitemap.xml",
    "/sitemap-1.xml",
    "/shoes/corvane-lantern-1/",
    "/shoes/corvane-lantern-1/similar/",
    "/shoes/corvane-lantern-1/picture.png",
    "/picture.png",
    "/stores/",
    "/stores/harbour/",
    "/how-we-measure/",
    "/screen/",
    "/screen/poster/",
    "/screen/poster.svg",
    "/remembered/",
    "/offline/",
    "/site.webmanifest",
    "/service-worker.js",
    "/api/catalogue/shoes/",
    "/api/catalogue/shoes/corvane-lantern-1/",
    "/api/catalogue/shoes/corvane-lantern-1/similar/",
    "/api/catalogue/shoes/corvane-lantern-1/curves/",
    "/api/catalogue/bands/",
    "/api/catalogue/stores/",
]

# Nothing is read from the query of a file.
FILES = {"catalogue:photo-file", "catalogue:icon"}

quick = settings(max_examples=20, deadline=None, suppress_health_check=[HealthCheck.function_scoped_fixture])


@pytest.fixture(autouse=True)
def no_throttle(settings):
    settings.API_VISITOR_REQUESTS_PER_MINUTE = 0


@pytest.fixture
def filled(make_shoe, make_store, put_in_stock):
    put_in_stock(make_store(), make_shoe(), "42")
    make_shoe("other", stability=71.0, mass_g=None)


SAID = re.compile(r"must|can be given once|can be compared|no published shoe|has no choice")


def problems_of(response):
    """Return what a refusal says is wrong, value by value; the API has to name the key in each sentence."""
    if response.headers["Content-Type"].startswith("application/json"):
        fields = response.json()["fields"]
        assert all(key[:20] in sentence for key, sentences in fields.items() for sentence in sentences), fields
        return [sentence for sentences in fields.values() for sentence in sentences]
    assert all(SAID.search(sentence) for sentence in response.context["problems"]), response.context["problems"]
    return response.context["problems"]


@pytest.mark.usefixtures("filled")
@pytest.mark.parametrize("address", ADDRESSES)
@quick
@given(pairs=queries)
def test_any_query_is_answered_or_refused(client, address, pairs):
    response = client.get(f"{address}?{urlencode(pairs, errors='surrogatepass')}")
    # A page of the API after the last one is a 404 that names it.
    assert response.status_code in ((200, 400, 404) if address.startswith("/api/") else (200, 400))
    if response.status_code != 200:
        assert problems_of(response)


@pytest.mark.usefixtures("filled")
@pytest.mark.parametrize("address", ["/", "/api/catalogue/shoes/"])
@quick
@given(raw=st.binary(max_size=60))
def test_any_bytes_are_answered_or_refused(client, address, raw):
    known = (200, 400, 404) if address.startswith("/api/") else (200, 400)
    assert client.get(f"{address}?{quote(raw, safe='=&%+;,')}").status_code in known
    assert client.get(f"{address}?q={quote(raw)}&store={quote(raw)}").status_code in (200, 400)


def test_every_public_address_is_tried():
    """An address without parts of its own that anybody may open is in the list above."""
    from core.gate.access import PUBLIC, declared_action
    from core.gate.checks import methods_of, url_patterns

    tried = {re.sub(r"(shoes|stores)/[^/]+", r"\1/<slug>", address) for address in ADDRESSES}
    for name, pattern in url_patterns():
        is_ours = name.startswith(("catalogue:", "catalogue-api:")) and name not in FILES
        if is_ours and "GET" in methods_of(pattern.callback) and declared_action(pattern.callback, "GET") == PUBLIC:
            address = address_of(name)
            assert re.sub(r"(shoes|stores)/[^/]+", r"\1/<slug>", address) in tried, name


def address_of(name):
    """Return the address of a public page, of the shoe and store that there are."""
    from django.urls import NoReverseMatch, reverse

    for given_parts in ({}, {"slug": "corvane-lantern-1"}, {"part": 1}):
        try:
            return reverse(name, kwargs=given_parts)
        except NoReverseMatch:
            continue
    raise AssertionError(name)


@pytest.mark.usefixtures("filled")
@quick
@given(words=st.text(alphabet=st.characters(exclude_categories=["Cs"]), max_size=80))
@pytest.mark.parametrize("address", ["/", "/replace/", "/compare/", "/api/catalogue/shoes/"])
def test_any_words_can_be_searched(client, address, words):
    # As its schema says, the API refuses a NUL, which PostgreSQL has no text with; pages leave it out.
    is_refused = "\x00" in words and address.startswith("/api/")
    assert client.get(address, {"q": words}).status_code == (400 if is_refused else 200)


@pytest.mark.usefixtures("filled")
@quick
@given(slug=st.text(min_size=1, max_size=30))
def test_any_name_of_a_shoe_is_found_or_not(client, slug):
    for address in ("/shoes/{}/", "/shoes/{}/similar/", "/stores/{}/", "/api/catalogue/shoes/{}/", "/sitemap-{}.xml"):
        assert client.get(address.format(quote(slug, safe=""))).status_code in (200, 301, 302, 404)
