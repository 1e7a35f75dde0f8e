"""A shoe that was withdrawn: its address answers, and it is in no list."""

from __future__ import annotations

import pytest
from django.utils import timezone

from catalogue.models import Scale, ScoreCard, Shoe
from catalogue.services import score_card_publish, score_cards_replace

SLUG = "corvane-lantern-1"


@pytest.fixture
def withdraw(publisher):
    def end(shoe, reason="the torque cell had drifted"):
        scale = Scale.objects.get(version="S1")
        score_cards_replace(actor=publisher, scores={shoe.pk: None}, scale=scale, reason=reason, at=timezone.now())

    return end


def test_page_says_since_when_and_why(client, make_shoe, withdraw, django_assert_max_num_queries):
    withdraw(make_shoe(name="Lantern"))
    with django_assert_max_num_queries(8):
        response = client.get(f"/shoes/{SLUG}/")
    text = response.content.decode()
    assert response.status_code == 200
    assert "Withdrawn on " in text
    assert "because the torque cell had drifted." in text
    assert "Lantern" in text
    assert 'content="noindex"' in text


def test_reason_is_escaped(client, make_shoe, withdraw):
    withdraw(make_shoe(), reason="<script>alert(1)</script>")
    assert "<script>alert" not in client.get(f"/shoes/{SLUG}/").content.decode()


def test_api_answers_gone(client, make_shoe, withdraw):
    withdraw(make_shoe())
    since = ScoreCard.objects.get().withdrawn_at
    for address in (f"/api/catalogue/shoes/{SLUG}/", f"/api/catalogue/shoes/{SLUG}/similar/"):
        response = client.get(address)
        assert response.status_code == 410
        assert list(response.json()) == ["state", "since", "reason"]
        assert response.json() == {
            "state": "withdrawn",
            "since": since.isoformat(),
            "reason": "the torque cell had drifted",
        }


@pytest.mark.parametrize(("address", "then"), [(f"/shoes/{SLUG}/", 200), (f"/api/catalogue/shoes/{SLUG}/", 410)])
def test_answer_from_before_is_not_confirmed(client, make_shoe, withdraw, address, then):
    shoe = make_shoe()
    client.get(address)  # gives the reader the cookie that is part of a page's mark
    mark = client.get(address).headers["ETag"]
    assert client.get(address, headers={"if-none-match": mark}).status_code == 304
    withdraw(shoe)
    assert client.get(address, headers={"if-none-match": mark}).status_code == then


def test_no_list_has_it(client, make_shoe, make_store, put_in_stock, withdraw):
    shoe, other = make_shoe(), make_shoe("corvane-other-1", stability=56.0)
    store = make_store()
    put_in_stock(store, shoe, "42")
    withdraw(shoe)
    assert client.get("/api/catalogue/shoes/").json()["count"] == 1
    assert client.get(f"/api/catalogue/shoes/{other.slug}/similar/").json()["count"] == 0
    assert SLUG not in client.get("/sitemap-1.xml").content.decode()
    assert client.get("/api/catalogue/stores/").json()["results"][0]["shoes"] == 0
    assert SLUG not in client.get("/").content.decode()
    assert client.get(f"/shoes/{SLUG}/picture.png").status_code == 404


def test_comparison_names_it(client, make_shoe, withdraw):
    shoe, other = make_shoe(), make_shoe("corvane-other-1")
    withdraw(shoe)
    response = client.get("/compare/", {"shoe": [SLUG, other.slug, "no-such"]})
    text = response.content.decode()
    assert response.status_code == 200
    assert f"{SLUG}” was withdrawn from the catalogue" in text
    assert "There is no published shoe “no-such”" in text


def test_similar_page_says_so_too(client, make_shoe, withdraw):
    withdraw(make_shoe())
    response = client.get(f"/shoes/{SLUG}/similar/")
    assert response.status_code == 200
    assert "Withdrawn on " in response.content.decode()


def test_shoe_that_never_was_published_is_not_there(client, make_shoe):
    make_shoe(published=False)
    assert client.get(f"/shoes/{SLUG}/").status_code == 404
    assert client.get(f"/api/catalogue/shoes/{SLUG}/").status_code == 404


def test_new_publication_brings_it_back(client, make_shoe, withdraw, publisher, scores_for):
    shoe = make_shoe()
    withdraw(shoe)
    score_card_publish(actor=publisher, shoe=shoe, scores=scores_for(61.0), reason="new tests")
    assert client.get(f"/api/catalogue/shoes/{SLUG}/").json()["scores"]["stability"]["value"] == 61.0
    assert not Shoe.objects.withdrawn().exists()
    withdraw(shoe, reason="again")
    assert client.get(f"/api/catalogue/shoes/{SLUG}/").json()["reason"] == "again"


def test_withdrawn_card_has_a_reason_and_is_not_current(make_shoe):
    from django.db import IntegrityError, transaction

    make_shoe()
    for change in ({"withdrawn_at": timezone.now()}, {"withdrawn_at": timezone.now(), "is_current": False}):
        with pytest.raises(IntegrityError, match="score_card_withdrawn_because"), transaction.atomic():
            ScoreCard.objects.update(**change)
