"""Small factories for the fittings' tests."""

from __future__ import annotations

import datetime as dt
from decimal import Decimal

import pytest
from django.utils import timezone

from tests.shared import shared


@shared
def make_shoe(cast):
    """Return a function that makes a published shoe, in stock where told ({store: [sizes]})."""
    from catalogue.models import Band, Brand, ScoreCard, Shoe, StockItem

    def make(slug, stability=67.0, *, u=1.0, use="running", stock=None, drop_mm=8.0, published=True, **card):
        brand, _ = Brand.objects.get_or_create(slug="brand", defaults={"name": "Brand"})
        shoe = Shoe.objects.create(
            slug=slug, brand=brand, name=slug, use=use, stack_heel_mm=20 + drop_mm, stack_forefoot_mm=20
        )
        for store, sizes in (stock or {}).items():
            for size in sizes:
                StockItem.objects.create(store=store, shoe=shoe, size_eu=Decimal(size), quantity=1)
        if published:
            bands = Band.objects.filter(scale__version="S1").order_by("order")
            band = next(b for b in bands if b.upper is None or stability < b.upper)
            ScoreCard.objects.create(
                shoe=shoe,
                scale=band.scale,
                band=band,
                stability=stability,
                midfoot=50,
                rearfoot=50,
                cushioning=50,
                stability_u=u,
                specimens=2,
                tested_on=dt.date(2026, 1, 1),
                scoring_model="S1",
                protocol="P1",
                published_at=timezone.now(),
                published_by=cast.reviewer,
                reason="test",
                **card,
            )
        return shoe

    return make


@pytest.fixture
def body(cast):
    """Return a function that makes the body of a fitting: a runner of 85 kg with heel pain that settled."""

    def make(**changes):
        return {
            "store": cast.store_a.slug,
            "customer": {"name": "Ada Example", "email": "ada@example.org", "consent": True},
            "use": "running",
            "body_mass_kg": 85,
            "distance_km_week": 30,
            "history": [{"region": "heel", "side": "left", "now": False, "settled_on": "2025-01-31"}],
            "pain_now": 0,
            "stop_signs": [],
            "observation": {
                "left": {
                    "pronation": 2,
                    "tibial_rotation": 1,
                    "rearfoot_eversion": 0,
                    "fpi6": 7,
                    "navicular_drop_mm": 9,
                },
                "right": {"pronation": 1, "tibial_rotation": 1, "rearfoot_eversion": 0, "fpi6": 5},
                "hip_weak": False,
            },
            "feet": {"left": {"length_mm": 262, "width_mm": 100}, "right": {"length_mm": 268, "width_mm": 101}},
            "current_shoe": None,
        } | changes

    return make


@shared
def make_fitting(cast):
    """Return a function that records a fitting through the service."""
    from fittings.domain.fitting.intake import CustomerIntake, FittingIntake, FootIntake
    from fittings.domain.regions import Complaint
    from fittings.services import fitting_record

    def make(*, actor=None, store=None, at=None, consent=True, name="Ada Example", email="ada@example.org", **intake):
        defaults = {
            "use": "running",
            "stop_signs_asked": True,
            "body_mass_kg": 70.0,
            "distance_km_week": 30.0,
            "left": FootIntake(pronation=2, tibial_rotation=1, rearfoot_eversion=0, length_mm=262.0),
            "right": FootIntake(pronation=1, tibial_rotation=1, rearfoot_eversion=0, length_mm=268.0),
            "history": (Complaint("heel", "left", False, dt.date(2025, 1, 31)),),
        }
        return fitting_record(
            actor=actor or cast.fitter_a,
            store=store or cast.store_a,
            intake=FittingIntake(customer=CustomerIntake(name, email, consent), **defaults | intake),
            at=at,
        ).fitting

    return make


@shared
def chosen(make_fitting, make_shoe, cast):
    """Return a function that records a fitting and a choice; answers the fitting."""
    from catalogue.models import Shoe
    from fittings.services import choice_record

    def make(*, at=None, slug="in-target", actor=None, **intake):
        if not Shoe.objects.filter(slug=slug).exists():
            make_shoe(slug, 65.0)
        fitting = make_fitting(at=at, actor=actor, **intake)
        choice_record(actor=actor or cast.fitter_a, fitting=fitting, slug=slug, size="EU 42.5", comfort=8, at=at)
        return fitting

    return make


@pytest.fixture
def without_noise(monkeypatch):
    """Show counts over all stores as they are, where a test is about something else than the noise on them."""
    monkeypatch.setattr("fittings.selectors.outcomes.noise.noisy", lambda count, _record_keys: count)
