"""A small practice with something of everything that an upgrade must not lose, entered through the services."""

from __future__ import annotations

import datetime as dt
import uuid
from decimal import Decimal
from typing import Any

from tests.labtests.bench_text import bench_bytes, curve_rows
from tests.people import Cast, make_cast, person

# Names by which the test finds the records again.
SHOE, CUSTOMER = "fenrunner-2", "Ada Example"

_SHOES = {SHOE: 4.5, "fenwalker-1": 3.6, "fenstand-1": 5.4}
_CALIBRATIONS = {
    "force": (0.5, 0.1),
    "torque": (0.02, 0.01),
    "displacement": (0.01, 0.01),
    "angle": (0.05, 0.1),
    "temperature": (0.1, 0.1),
}
_CHOSEN = dt.datetime(2026, 4, 1, 10, 0, tzinfo=dt.UTC)


def fill() -> None:
    """Fill an empty, migrated database."""
    cast = make_cast()
    shoes = _shoes()
    _lab(cast, shoes)
    _stock(cast, shoes)
    _fittings(cast)
    _adoption(cast)


def _shoes() -> list[Any]:
    from catalogue.services import brand_create, shoe_create

    brand = brand_create(actor=None, slug="fenwright", name="Fenwright")
    return [
        shoe_create(actor=None, slug=slug, brand=brand, name=slug.title(), mass_g=280.0, stack_heel_mm=34.0)
        for slug in _SHOES
    ]


def _lab(cast: Cast, shoes: list[Any]) -> None:
    from labtests import services

    rig = services.rig_create(actor=cast.reviewer, code="rig-1", name="Rig one")
    for quantity, (u, resolution) in _CALIBRATIONS.items():
        calibration = services.calibration_record(
            actor=cast.technician,
            rig=rig,
            quantity=quantity,
            certificate=f"C-{quantity}",
            calibrated_on=dt.date(2025, 6, 1),
            due_on=dt.date(2026, 12, 31),
            standard_uncertainty=u,
            resolution=resolution,
        )
        services.calibration_sign(actor=cast.reviewer, calibration=calibration)
    for shoe in shoes:
        for number in (1, 2):
            test = _test(cast, shoe.slug, f"{shoe.slug}-{number}", _SHOES[shoe.slug])
            services.bench_test_approve(actor=cast.reviewer, test=test, reason="")
        services.shoe_publish(actor=cast.reviewer, shoe=shoe, reason="first tests")
    services.bench_test_void(actor=cast.reviewer, test=_test(cast, SHOE, f"{SHOE}-3", 4.6), reason="the wrong clamp")
    chamber = services.chamber_create(actor=cast.reviewer, code="chamber-1")
    entry = services.specimen_in(actor=cast.technician, chamber=chamber, specimen=services.SpecimenGiven(f"{SHOE}-1"))
    services.specimen_out(actor=cast.technician, entry=entry)


def _test(cast: Cast, shoe: str, specimen: str, torque_15_nm: float) -> Any:
    from labtests.services import upload_store

    rows = curve_rows([(torque_15_nm + d, 6.8 + d) for d in (-0.02, 0.0, 0.02)])
    data = bench_bytes(rows, shoe=shoe, specimen=specimen)
    return upload_store(actor=cast.technician, name=f"{specimen}.csv", data=data).tests.get()


def _stock(cast: Cast, shoes: list[Any]) -> None:
    from catalogue.services import print_run_record
    from tests.stock import stock_set

    for shoe in shoes:
        for size in ("42", "42.5", "43"):
            stock_set(actor=None, store=cast.store_a, shoe=shoe, size_eu=Decimal(size), quantity=2)
    listed = [shoe.pk for shoe in shoes]
    print_run_record(actor=cast.manager_a, store=cast.store_a, shoes=listed, paper="a4", cards_per_sheet=4)


def _fittings(cast: Cast) -> None:
    from fittings import services
    from fittings.domain.fitting.intake import CustomerIntake, FittingIntake, FollowUpAnswer, FootIntake
    from fittings.domain.people.recurrence import Pain
    from fittings.domain.regions import Complaint
    from fittings.services.fitting.draft import Stamp, Whom

    intake = FittingIntake(
        use="running",
        customer=CustomerIntake(CUSTOMER, "ada@example.org", True),
        body_mass_kg=70.0,
        distance_km_week=30.0,
        history=(Complaint("heel", "left", False, dt.date(2025, 1, 31)),),
        left=FootIntake(pronation=2, tibial_rotation=1, fpi6=7, length_mm=262.0),
        right=FootIntake(pronation=1, tibial_rotation=1, fpi6=5, length_mm=268.0),
    )
    given = {"actor": cast.fitter_a, "at": _CHOSEN}
    fitting = services.fitting_record(store=cast.store_a, intake=intake, **given).fitting
    services.try_on_record(fitting=fitting, slug="fenwalker-1", size="EU 42.5", comfort=6, **given)
    services.choice_record(fitting=fitting, slug=SHOE, size="EU 42.5", comfort=8, reason="comfort", **given)
    answer = FollowUpAnswer(wearing=True, distance_km_week=14.0, comfort=7, pain=(Pain("heel", "left", 2),))
    first = fitting.follow_ups.order_by("due_on").first()
    services.follow_up_answer(actor=None, follow_up=first, answer=answer, at=_CHOSEN + dt.timedelta(days=14))
    key, said = uuid.UUID(int=1), CustomerIntake("Ben Example", "ben@example.org", True)
    services.person_save(actor=cast.fitter_a, store=cast.store_a, key=key, whom=Whom(said), stamp=Stamp())
    feet = {"foot-left-length_mm": "262"}
    services.section_save(actor=cast.fitter_a, key=key, name="feet", content=feet, stamp=Stamp())


def _adoption(cast: Cast) -> None:
    """A second scoring model: its results are sealed in the trail as one batch."""
    from labtests.models import ScoringModel
    from labtests.services import model_adopt, model_draft_create

    source = ScoringModel.objects.get(is_current=True)
    author = person("author", "reviewer")
    draft = model_draft_create(actor=author, version="S2", reason="the anchors of this year", source=source)
    model_adopt(actor=cast.reviewer, draft=draft, revision=draft.revision, reason="agreed")
