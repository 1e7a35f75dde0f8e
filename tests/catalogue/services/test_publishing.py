from __future__ import annotations

import datetime as dt
from dataclasses import replace
from decimal import Decimal

import pytest

from catalogue.models import Band, ScoreCard, StockItem
from catalogue.services import brand_create, score_card_publish, shoe_create
from core import audit
from core.domain.errors import DomainError
from tests.stock import stock_set


def actions_on(subject):
    return [entry.action for entry in audit.entries_of(subject).order_by("id")]


def test_publishing_makes_the_current_card_with_the_scores_as_given(make_shoe, publisher, scores_for):
    shoe = make_shoe(published=False)
    at = dt.datetime(2026, 3, 5, 9, 30, tzinfo=dt.UTC)
    scores = scores_for(58.7, is_borderline=True, neighbour=3, band_probability=0.7, cushioning_estimated=True)
    card = score_card_publish(actor=publisher, shoe=shoe, scores=scores, reason=" first tests ", at=at)
    card.refresh_from_db()
    assert (card.stability, card.stability_u, card.band.order, card.neighbour.order) == (58.7, 1.0, 2, 3)
    assert (card.is_current, card.published_at, card.published_by, card.reason) == (True, at, publisher, "first tests")
    assert (card.is_borderline, card.cushioning_estimated, card.band_probability) == (True, True, 0.7)
    assert actions_on(card) == ["catalogue.score_card.published"]


def test_publishing_again_retires_the_card_before_and_keeps_it(make_shoe, publisher, scores_for):
    shoe = make_shoe(stability=55.0)
    first = ScoreCard.objects.get(shoe=shoe)
    second = score_card_publish(actor=publisher, shoe=shoe, scores=scores_for(61.0), reason="new foam")
    first.refresh_from_db()
    assert not first.is_current
    assert first.stability == 55.0
    assert ScoreCard.objects.get(shoe=shoe, is_current=True) == second
    assert actions_on(first) == ["catalogue.score_card.published", "catalogue.score_card.retired"]


@pytest.mark.parametrize(
    ("change", "code"),
    [
        ({"scale": "S9"}, "no_such_scale"),
        ({"band": 6}, "no_such_band"),
        ({"neighbour": 0}, "no_such_band"),
        ({"band": 3}, "band_contradicts_score"),
        ({"band": 1}, "band_contradicts_score"),
    ],
)
def test_scores_that_contradict_the_scale_are_refused_and_nothing_changes(
    make_shoe, publisher, scores_for, change, code
):
    shoe = make_shoe(stability=55.0)
    before = list(ScoreCard.objects.values())
    with pytest.raises(DomainError) as caught:
        score_card_publish(actor=publisher, shoe=shoe, scores=replace(scores_for(56.0), **change), reason="again")
    assert (caught.value.code, caught.value.status) == (code, 409)
    assert list(ScoreCard.objects.values()) == before


@pytest.mark.parametrize(("stability", "order"), [(49.999, 1), (50.0, 2), (59.999, 2), (60.0, 3), (80.0, 5), (-3.0, 1)])
def test_lower_limit_belongs_to_the_band_and_upper_does_not(make_shoe, stability, order):
    shoe = make_shoe(stability=stability)
    assert Band.objects.get(pk=ScoreCard.objects.get(shoe=shoe).band_id).order == order


def test_publishing_needs_a_reason(make_shoe, publisher, scores_for):
    shoe = make_shoe(published=False)
    with pytest.raises(DomainError, match="Give a reason"):
        score_card_publish(actor=publisher, shoe=shoe, scores=scores_for(), reason="  ")
    assert not ScoreCard.objects.exists()


@pytest.mark.parametrize("change", [{"specimens": 0}, {"band_probability": 1.2}])
def test_impossible_card_is_refused_as_a_domain_error(make_shoe, publisher, scores_for, change):
    shoe = make_shoe(published=False)
    with pytest.raises(DomainError):
        score_card_publish(actor=publisher, shoe=shoe, scores=scores_for(**change), reason="tests")


def test_stock_is_set_changed_and_kept_at_zero(make_shoe, make_store, cast):
    shoe, store = make_shoe(), make_store()
    for quantity in (3, 0):
        item = stock_set(actor=cast.manager_a, store=store, shoe=shoe, size_eu=Decimal("42.5"), quantity=quantity)
    assert StockItem.objects.get().quantity == 0
    assert actions_on(item) == ["catalogue.stock.set"] * 2
    assert audit.entries_of(item).first().content["before"] == {"quantity": 3}


@pytest.mark.parametrize(("size", "quantity"), [("9", 1), ("60", 1), ("42.55", 1), ("42", -1), ("42", 99_999)])
def test_impossible_stock_is_refused(make_shoe, make_store, size, quantity):
    shoe, store = make_shoe(), make_store()
    with pytest.raises(DomainError):
        stock_set(actor=None, store=store, shoe=shoe, size_eu=Decimal(size), quantity=quantity)
    assert not StockItem.objects.exists()


def test_shoe_twice_is_refused_with_words(make_shoe):
    shoe = make_shoe(published=False)
    with pytest.raises(DomainError, match="already has a shoe of this name and version"):
        shoe_create(actor=None, slug="other", brand=shoe.brand, name=shoe.name, version=shoe.version)


def test_brand_and_shoe_are_audited(db):
    brand = brand_create(actor=None, slug="odderby", name="Odderby")
    shoe = shoe_create(actor=None, slug="odderby-fen-1", brand=brand, name="Fen", version="1", use="walking")
    assert actions_on(brand) == ["catalogue.brand.created"]
    assert actions_on(shoe) == ["catalogue.shoe.created"]


def test_control_character_in_a_name_is_refused(db):
    with pytest.raises(DomainError, match="control characters"):
        brand_create(actor=None, slug="odderby", name="Odder\nby")
