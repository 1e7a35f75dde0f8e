"""Small factories of the catalogue, through its services."""

from __future__ import annotations

import datetime as dt
from decimal import Decimal

from tests.shared import shared


@shared
def publisher(db):
    from tests.people import person

    return person("publisher", "reviewer")


@shared
def scores_for():
    """Return a function that makes the scores of a stability, the rest given by name."""
    from catalogue.services import PublishedScores

    def scores(stability=55.0, **more):
        band = 1 + sum(stability >= limit for limit in (50, 60, 70, 80))
        values = {
            "scale": "S1",
            "band": band,
            "stability": stability,
            "midfoot": stability + 2,
            "rearfoot": stability - 2,
            "cushioning": 60.0,
            "stability_u": 1.0,
            "midfoot_u": 1.2,
            "rearfoot_u": 1.4,
            "cushioning_u": 0.8,
            "band_probability": 0.97,
            "specimens": 2,
            "tested_on": dt.date(2026, 3, 4),
            "scoring_model": "S1",
            "protocol": "P1",
        }
        return PublishedScores(**(values | more))

    return scores


@shared
def make_shoe(publisher, scores_for):
    """Return a function that adds a shoe and, unless asked not to, publishes it."""
    from catalogue.models import Brand
    from catalogue.services import brand_create, score_card_publish, shoe_create

    def make(slug="corvane-lantern-1", *, brand="Corvane", published=True, scores=None, **details):
        stability = details.pop("stability", 55.0)
        held = Brand.objects.filter(name=brand).first()
        held = held or brand_create(actor=None, slug=brand.lower(), name=brand)
        values = {"name": slug, "version": "1", "mass_g": 280.0, "stack_heel_mm": 34.0, "stack_forefoot_mm": 26.0}
        shoe = shoe_create(actor=None, slug=slug, brand=held, **(values | details))
        if published:
            chosen = scores or scores_for(stability)
            score_card_publish(actor=publisher, shoe=shoe, scores=chosen, reason="first tests")
        return shoe

    return make


@shared
def make_store(db):
    from core.models import Store

    def make(slug="harbour", name="Harbour"):
        return Store.objects.create(slug=slug, name=name, town="Ombrey", hours="Mon to Sat 10:00 to 18:00")

    return make


@shared
def put_in_stock():
    from tests.stock import stock_set

    def put(store, shoe, *sizes, quantity=2):
        for size in sizes:
            stock_set(actor=None, store=store, shoe=shoe, size_eu=Decimal(size), quantity=quantity)

    return put
