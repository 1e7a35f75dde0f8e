from __future__ import annotations

import re
from dataclasses import replace

import numpy as np
import pytest

from catalogue import selectors


def plain(response):
    words = re.sub(r"\s+", " ", re.sub(r"<[^>]+>", " ", response.content.decode()))
    return words.replace("\u00a0", " ").replace(" ,", ",")


@pytest.fixture
def shoes(make_shoe):
    make_shoe("one", stability=55.0, mass_g=280.0)
    make_shoe("two", stability=56.5, mass_g=300.0)
    make_shoe("three", stability=71.0, mass_g=None)


@pytest.mark.usefixtures("shoes")
def test_differences_are_from_the_first_shoe_and_judged_by_their_uncertainty(client):
    page = plain(client.get("/compare/?shoe=one&shoe=two&shoe=three"))
    assert "56.5 ± 2.0 +1.5 ± 2.8, within the uncertainty" in page
    assert "71.0 ± 2.0 +16.0 ± 2.8, larger than the uncertainty" in page
    assert "300 g +20 g, no uncertainty stated" in page
    assert "–, not measured" in page
    assert "60.0 ± 1.6 0.0 ± 2.3, the same" in page


@pytest.mark.usefixtures("shoes")
def test_order_of_the_query_is_the_order_of_the_columns(client):
    page = client.get("/compare/?shoe=two&shoe=one").content.decode()
    assert page.index('<a href="/shoes/two/">') < page.index('<a href="/shoes/one/">')
    assert "−1.5" in page


@pytest.mark.usefixtures("shoes")
def test_one_shoe_or_none_offers_the_others(client):
    page = client.get("/compare/?shoe=one").content.decode()
    assert '<input type="hidden" name="shoe" value="one">' in page
    assert 'href="/compare/?shoe=one&amp;shoe=two"' in page
    assert 'href="/compare/?shoe=one&amp;shoe=one"' not in page
    assert page.index("shoe=one&amp;shoe=two") < page.index("shoe=one&amp;shoe=three"), "the nearest comes first"
    assert client.get("/compare/").content.decode().count('href="/compare/?shoe=') == 3


@pytest.mark.usefixtures("shoes")
def test_shoe_to_set_beside_is_found_by_words(client):
    page = client.get("/compare/?shoe=one&q=thr").content.decode()
    assert re.findall(r'href="/compare/\?shoe=one&amp;shoe=(\w+)"', page) == ["three"]
    assert "No other published shoe has these words." in client.get("/compare/?shoe=one&q=none").content.decode()


@pytest.mark.usefixtures("shoes")
def test_chart_lays_the_scores_over_each_other_with_whiskers(client):
    page = client.get("/compare/?shoe=one&shoe=two").content.decode()
    assert page.count("<title>Corvane one 1: stability 55.0 ± 2.0</title>") == 2, "for wide screens and for phones"
    assert page.count("<title>Corvane two 1: cushioning 60.0 ± 1.6</title>") == 2
    assert 'aria-label="The four scores of Corvane one 1 and Corvane two 1"' in page


@pytest.mark.usefixtures("shoes")
def test_each_shoe_can_be_left_out(client):
    page = client.get("/compare/?shoe=one&shoe=two").content.decode()
    assert 'href="/compare/?shoe=two">Remove' in page
    assert 'href="/compare/?shoe=one">Remove' in page
    assert 'href="/compare/">Remove' in client.get("/compare/?shoe=one").content.decode()


@pytest.mark.usefixtures("shoes")
@pytest.mark.parametrize(
    ("query", "said"),
    [
        ("shoe=one&shoe=gone", "There is no published shoe “gone”."),
        ("shoe=a&shoe=b&shoe=c&shoe=d&shoe=e", "Up to 4 shoes can be compared, got 5."),
    ],
)
def test_bad_choice_is_a_400_with_words(client, query, said):
    response = client.get(f"/compare/?{query}")
    assert response.status_code == 400
    assert said in plain(response)


def test_nothing_published_says_so(client, db):
    assert "Nothing is published yet" in plain(client.get("/compare/"))


@pytest.mark.usefixtures("shoes")
@pytest.mark.parametrize("address", ["/compare/?shoe=one&shoe=two", "/shoes/one/", "/shoes/one/similar/"])
def test_shoe_published_between_two_reads_is_a_404_and_not_a_failure(client, monkeypatch, address):
    # The columns are of the revision read first; a shoe that came after it is not in them yet.
    now = selectors.columns_at(selectors.revision())
    nothing = np.empty((0, 6))
    older = replace(
        now, ids=now.ids[:0], rows={}, slugs=(), values=nothing, u=nothing, is_discontinued=np.zeros(0, bool)
    )
    for module in ("similar", "shoes"):
        monkeypatch.setattr(f"catalogue.selectors.{module}.columns_at", lambda _: older)
    assert client.get(address).status_code == 404
