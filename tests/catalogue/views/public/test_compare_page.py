from __future__ import annotations

import re
from dataclasses import replace

import numpy as np
import pytest

from catalogue import selectors
from tests.shared import shared


def plain(response):
    words = re.sub(r"\s+", " ", re.sub(r"<[^>]+>", " ", response.content.decode()))
    return words.replace("\u00a0", " ").replace(" ,", ",")


@shared
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
        ("shoe=gone", "There is no published shoe “gone”."),
        ("shoe=a&shoe=b&shoe=c&shoe=d&shoe=e", "Up to 4 shoes can be compared, got 5."),
    ],
)
def test_bad_choice_is_a_400_that_says_how_to_go_on(client, query, said):
    response = client.get(f"/compare/?{query}")
    assert response.status_code == 400
    page = plain(response)
    assert said in page
    assert "Choose a shoe below, or look for it in the list of all shoes" in page
    assert 'href="/compare/?shoe=one"' in response.content.decode()


@pytest.mark.usefixtures("shoes")
def test_one_unknown_shoe_is_left_out_with_a_note(client):
    response = client.get("/compare/?shoe=one&shoe=gone&shoe=two")
    assert response.status_code == 200
    page = plain(response)
    assert "There is no published shoe “gone”. The others are compared." in page
    assert "What differs from A, Corvane one 1" in page


@pytest.mark.usefixtures("shoes")
def test_shoe_with_an_old_address_is_compared_under_its_present_one(client):
    from catalogue.models import Shoe, ShoeAddress

    ShoeAddress.objects.create(shoe=Shoe.objects.get(slug="two"), slug="old-two")
    page = client.get("/compare/?shoe=one&shoe=old-two").content.decode()
    assert '<a href="/shoes/two/">Corvane two 1</a>' in page
    assert "no published shoe" not in page


def test_differences_are_said_in_sentences_the_real_ones_first(client, make_shoe, scores_for):
    make_shoe("soft", scores=scores_for(55.0, rearfoot=50.0, rearfoot_u=1.0, rearfoot_df=6.0))
    firm = scores_for(55.5, rearfoot=57.1, rearfoot_u=1.0, rearfoot_df=6.0)
    make_shoe("firm", scores=firm, mass_g=300.0)
    page = plain(client.get("/compare/?shoe=soft&shoe=firm"))
    # u = √2, Welch-Satterthwaite: 4 / (1/6 + 1/6) = 12 degrees of freedom, k = 2.23 (Student's t, 95.45 %): 3.2.
    assert "B is firmer at the heel: 7.1 ± 3.2, a real difference." in page
    assert "Stability: no real difference (0.5 ± 2.8)." in page
    assert "B is heavier: 20 g, as stated by the makers, not measured." in page
    assert page.index("a real difference.") < page.index("no real difference (")
    assert "What “a real difference” means".casefold() in page.casefold()


def test_shoe_of_the_same_measures_is_nearer_than_one_of_the_same_drop(client, make_shoe, scores_for):
    """What is stated does not rank shoes, unless a visitor has it weighed."""
    for slug, stability, stack in (("here", 55.0, 26.0), ("alike", 56.0, 34.0), ("other-band", 63.0, 26.0)):
        make_shoe(slug, scores=scores_for(stability), stack_forefoot_mm=stack)
    for number in range(6):
        make_shoe(f"far-{number}", stability=70.0 + 3 * number, stack_forefoot_mm=25.5 + number / 10)

    def first(query):
        return client.get(f"/api/catalogue/shoes/here/similar/?{query}").json()["results"][0]["slug"]

    assert first("") == "alike"
    assert first("weigh=drop") == "other-band"
    near = client.get("/shoes/here/similar/?available=no").content.decode()
    assert near.index("/shoes/alike/") < near.index("/shoes/other-band/")
    assert "not weighed" in near
    weighed = client.get("/shoes/here/similar/?available=no&weigh=drop").content.decode()
    assert weighed.index('href="/shoes/other-band/"') < weighed.index('href="/shoes/alike/"')
    assert '<input type="checkbox" name="weigh" value="drop" checked>' in weighed
    assert client.get("/shoes/here/similar/?weigh=price").status_code == 400
    assert "weigh" in client.get("/api/catalogue/shoes/here/similar/?weigh=price").json()["fields"]


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
        monkeypatch.setattr(f"catalogue.selectors.public.{module}.columns_at", lambda _: older)
    assert client.get(address).status_code == 404


@pytest.mark.usefixtures("shoes")
def test_remembered_shoes_with_earlier_addresses_lead_to_the_present_ones_with_a_notice(client):
    from catalogue.models import Shoe, ShoeAddress

    ShoeAddress.objects.create(shoe=Shoe.objects.get(slug="two"), slug="old-two")
    answer = client.get("/remembered/?shoe=old-two&shoe=one&shoe=gone", follow=True)
    assert answer.redirect_chain == [("/remembered/?shoe=two&shoe=one&shoe=gone", 301)]
    page = plain(answer)
    assert "Your link was an old one. Some of these shoes have another address now." in page
    assert "Not published at present: gone." in page
    assert "56.5" in page
