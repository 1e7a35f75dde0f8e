"""Many people in a few statements: what the services take a second for, a hundred of them take here."""

from __future__ import annotations

import datetime as dt

import numpy as np
from django.utils import timezone

from fittings.models import Choice, Course, Customer, Fitting, NeedRules, ShoeMovement
from fittings.selectors.outcomes.released_people import quarter_of, quarter_start, released_until


def make_people(cast, make_shoe, people, quarters):
    """Two stores over seven quarters whose follow-ups are over; a fifth had a recurrence, a seventh chose outside."""
    rng = np.random.default_rng(20261128)
    shoes = [make_shoe(f"shoe-{n}", stability) for n, stability in enumerate((48.0, 65.0, 66.0, 83.0))]
    rules = NeedRules.objects.get(is_current=True)
    last = quarter_of(released_until(timezone.localdate()))
    days = [quarter_start(last - quarters) + dt.timedelta(days=int(n)) for n in rng.integers(0, 89 * quarters, people)]
    stores = [cast.store_a if n else cast.store_b for n in rng.random(people) < 0.7]
    now = timezone.now()
    customers = Customer.objects.bulk_create(
        Customer(store=store, name=f"Person {n}", created_at=now) for n, store in enumerate(stores)
    )
    uses = rng.choice(["running", "walking", "standing"], people, p=[0.85, 0.1, 0.05])
    fittings = Fitting.objects.bulk_create(
        Fitting(
            store=store,
            fitter=cast.fitter_a if store == cast.store_a else cast.fitter_b,
            at=timezone.make_aware(dt.datetime.combine(day, dt.time(12))),
            kept=True,
            customer=customer,
            use=str(use),
            body_mass_kg=round(float(mass), 1),
            rules=rules,
            need_low=59,
            need_centre=65,
            need_high=71,
        )
        for store, day, customer, use, mass in zip(
            stores, days, customers, uses, rng.normal(78, 11, people).clip(45, 120), strict=True
        )
    )
    picked = rng.choice(4, people, p=[0.08, 0.5, 0.36, 0.06])
    cards = [shoe.score_cards.get() for shoe in shoes]
    Choice.objects.bulk_create(
        Choice(
            fitting=fitting,
            shoe=shoes[n],
            score_card=cards[n],
            size_eu=42,
            reason="" if n in (1, 2) else "wanted",
            stability=cards[n].stability,
            in_target=n in (1, 2),
            at=fitting.at,
        )
        for fitting, n in zip(fittings, picked.tolist(), strict=True)
    )
    # Two in three were looked at in the shoe chosen and barefoot; the draws for it are their own.
    looks = np.random.default_rng(20261129).choice(["better", "same", "worse", ""], people, p=[0.35, 0.22, 0.1, 0.33])
    ShoeMovement.objects.bulk_create(
        ShoeMovement(fitting=fitting, shoe=shoes[n], movement=str(look))
        for fitting, n, look in zip(fittings, picked.tolist(), looks, strict=True)
        if look
    )
    courses = list(Course.objects.filter(fitting__in=fittings).order_by("fitting"))
    visits = rng.choice([14, 42, 84, 182], people).tolist()
    for course, came_back, visit in zip(courses, (rng.random(people) < 0.2).tolist(), visits, strict=True):
        course.days, course.km, course.recurred = visit, 20.0 * visit / 7, came_back
        course.entered_days, course.free_until_days = 0, 0 if came_back else visit
        course.answered, course.complaints, course.left_out = True, 1, None
    columns = ["entered_days", "free_until_days", "days", "km", "recurred", "answered", "complaints", "left_out"]
    Course.objects.bulk_update(courses, columns)
    return fittings
