from __future__ import annotations

import re

import pytest

from catalogue.services import score_card_publish


def text(response):
    assert response.status_code == 200
    return response.content.decode()


def plain(response):
    """Return the words of a page on one line."""
    return re.sub(r"\s+", " ", re.sub(r"<[^>]+>", " ", text(response))).replace("\u00a0", " ")


def test_shoe_page_says_scores_band_and_how_they_came(client, make_shoe, make_store, put_in_stock, scores_for):
    shoe = make_shoe(name="Lantern", scores=scores_for(55.04, band_probability=0.93))
    put_in_stock(make_store(), shoe, "42", "42.5")
    page = plain(client.get("/shoes/corvane-lantern-1/"))
    for words in (
        "Corvane Lantern 1",
        "55.0 ± 2.0",
        "57.0 ± 2.4",
        "60.0 ± 1.6",
        "the probability that the true score is in Little hold is 93 %",
        "Slight inward roll",
        "Tested 4 March 2026",
        "Specimens 2",
        "Test protocol version 1",
        "Scoring model version 1",
        "Harbour EU 42, 42.5",
        "280 g",
        "The only published shoe so far.",
        "Not a diagnosis or a treatment",
        "Published trials of matching shoes to foot type disagree",
        "see a licensed clinician",
        "without a published source",
    ):
        assert words in page


def test_borderline_provisional_and_estimated_are_explained(client, make_shoe, scores_for):
    scores = scores_for(
        59.2, is_borderline=True, neighbour=3, band_probability=0.62, is_provisional=True, specimens=1,
        cushioning_estimated=True,
    )  # fmt: skip
    make_shoe(scores=scores)
    page = plain(client.get("/shoes/corvane-lantern-1/"))
    assert "this probability is below 80 %: it could equally be in Medium hold" in page
    assert "only 1 specimen of this shoe was tested" in page
    assert "60.0 ± 1.6 (estimated)" in page
    assert "no compression curve" in page


@pytest.mark.parametrize(("probability", "is_shown"), [(0.94, True), (0.96, False)])
def test_probability_is_shown_only_where_it_is_in_doubt(client, make_shoe, scores_for, probability, is_shown):
    """On the shoe's page, and in the list where the shoe is borderline; the API has the number always."""
    make_shoe(scores=scores_for(55.0, band_probability=probability))
    make_shoe("edge", scores=scores_for(59.0, is_borderline=True, neighbour=3, band_probability=0.63))
    percent = f"{100 * probability:.0f}\xa0%"
    page = client.get("/shoes/corvane-lantern-1/").content.decode()
    assert (percent in page) == is_shown
    assert ("at least 95 % probable" in page) != is_shown
    shown = client.get("/").content.decode()
    assert percent not in shown
    assert shown.count('class="band__p"') == 1
    assert "63\xa0%" in shown
    assert client.get("/api/catalogue/shoes/corvane-lantern-1/").json()["band"]["probability"] == probability


def test_neighbour_is_named_beside_the_band(client, make_shoe, scores_for):
    make_shoe(scores=scores_for(59.2, is_borderline=True, neighbour=3, band_probability=0.62))
    for address in ("/shoes/corvane-lantern-1/", "/"):
        assert "borderline to Medium hold" in plain(client.get(address))


def test_a_guard_band_is_explained(client, make_shoe, scores_for):
    make_shoe(scores=scores_for(59.2, is_borderline=True, neighbour=3, band_probability=0.97))
    page = plain(client.get("/shoes/corvane-lantern-1/"))
    assert "the score is too near a limit of its band: it could equally be in Medium hold" in page


def test_unknown_uncertainty_is_said_and_not_made_up(client, make_shoe, scores_for):
    unknown = {f"{name}_u": None for name in ("stability", "midfoot", "rearfoot", "cushioning")}
    make_shoe(scores=scores_for(55.0, band_probability=None, **unknown))
    page = plain(client.get("/shoes/corvane-lantern-1/"))
    assert page.count("uncertainty unknown") == 5
    assert "cannot be said: the uncertainty of the score is not known" in page
    assert "Little hold %" not in page


def test_standing_among_the_others_is_counted(client, make_shoe):
    for slug, stability in (("low", 45.0), ("middle", 55.0), ("high", 65.0)):
        make_shoe(slug, stability=stability)
    assert "Lowest of 3 published shoes." in plain(client.get("/shoes/low/"))
    assert "Higher than 1 of the 2 other published shoes." in plain(client.get("/shoes/middle/"))
    assert "Highest of 3 published shoes." in plain(client.get("/shoes/high/"))


def test_versions_and_earlier_scores_are_linked(client, make_shoe, publisher, scores_for):
    old = make_shoe("lantern-1", name="Lantern", version="1")
    make_shoe("lantern-2", name="Lantern", version="2", previous=old)
    score_card_publish(actor=publisher, shoe=old, scores=scores_for(57.0), reason="a third specimen")
    page = text(client.get("/shoes/lantern-1/"))
    assert 'Followed by <a href="/shoes/lantern-2/">' in page
    assert "Earlier published scores" in page
    assert 'Follows <a href="/shoes/lantern-1/">' in text(client.get("/shoes/lantern-2/"))


def test_publishing_again_changes_the_page_at_once(client, make_shoe, publisher, scores_for):
    shoe = make_shoe(stability=55.0)
    assert "55.0" in plain(client.get("/"))
    score_card_publish(actor=publisher, shoe=shoe, scores=scores_for(72.4), reason="new foam")
    assert "72.4 ± 2.0" in plain(client.get("/"))
    assert "72.4 ± 2.0" in plain(client.get("/shoes/corvane-lantern-1/"))


def test_negative_scores_have_a_real_minus(client, make_shoe):
    make_shoe(stability=-3.06)
    assert "−3.1 ± 2.0" in plain(client.get("/shoes/corvane-lantern-1/"))


def test_similar_page_orders_by_nearness_and_explains(client, make_shoe):
    for slug, stability in (("here", 55.0), ("near", 55.5), ("far", 78.0)):
        make_shoe(slug, stability=stability)
    page = text(client.get("/shoes/here/similar/"))
    assert page.index('href="/shoes/near/"') < page.index('href="/shoes/far/"')
    words = plain(client.get("/shoes/here/similar/"))
    assert "No measurable difference." in words
    assert "Measurably different in stability, midfoot and rearfoot." in words
    assert "+0.5 ± 2.8 within the uncertainty" in words
    assert "+23.0 ± 2.8 larger than the uncertainty" in words


@pytest.mark.parametrize("address", ["/shoes/none/", "/shoes/none/similar/"])
def test_unknown_name_is_a_404(client, db, address):
    response = client.get(address)
    assert response.status_code == 404
    assert b"This page does not exist, or you have no access to it." in response.content


def test_old_address_leads_to_the_shoe_with_a_notice(client, make_shoe):
    from catalogue.models import ShoeAddress

    ShoeAddress.objects.create(shoe=make_shoe("lantern-2"), slug="lantern-two")
    response = client.get("/shoes/lantern-two/", follow=True)
    assert response.redirect_chain == [("/shoes/lantern-2/", 301)]
    assert "Your link was an old one." in text(response)
    assert "Your link was an old one." not in text(client.get("/shoes/lantern-2/"))


def test_stock_is_second_on_the_page_with_a_line_for_each_store(client, make_shoe, make_store, put_in_stock):
    shoe = make_shoe()
    put_in_stock(make_store(), shoe, "42", "42.5", "43", "45")
    put_in_stock(make_store("mill", "Mill"), shoe, "39")
    page = text(client.get("/shoes/corvane-lantern-1/"))
    assert re.findall(r'<h2 id="h-(\w+)">', page)[:2] == ["stability", "stock"]
    lines = re.findall(r"<dd>([^<]+) <span[^>]*>as of (\d+ \w+ \d{4})</span></dd>", page)
    assert [sizes.replace("\u00a0", " ") for sizes, _ in lines] == ["EU 42 to 43, 45", "EU 39"]
