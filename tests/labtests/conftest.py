"""A lab with one shoe, one rig in calibration, and files for it."""

from __future__ import annotations

import datetime as dt
from dataclasses import dataclass
from typing import Any

import pytest

from tests.labtests.bench_text import bench_bytes, curve_rows
from tests.shared import shared

CALIBRATIONS = {
    "force": (0.5, 0.1),
    "torque": (0.02, 0.01),
    "displacement": (0.01, 0.01),
    "angle": (0.05, 0.1),
    "temperature": (0.1, 0.1),
}


@dataclass(frozen=True)
class Lab:
    """The lab of the tests: who works there, on what."""

    technician: Any
    reviewer: Any
    shoe: Any
    rig: Any

    def upload(self, data: bytes, *, name: str = "a.csv", actor: Any = None) -> Any:
        from labtests import services

        return services.upload_store(actor=actor or self.technician, name=name, data=data)

    def accepted(self, *, specimen: str = "F2-01", torque_15: float = 5.1, **header: str) -> Any:
        """Upload a test of three repeats with curves, within the protocol."""
        rows = curve_rows([(torque_15 + d, 5.9 + d) for d in (-0.02, 0.0, 0.02)])
        upload = self.upload(bench_bytes(rows, specimen=specimen, **header), name=f"{specimen}.csv")
        return upload.tests.get()

    def approved(self, **given: Any) -> Any:
        from labtests import services

        return services.bench_test_approve(actor=self.reviewer, test=self.accepted(**given), reason="")

    def incident(self, period: Any, *, reason: str = "torque cell drifted") -> Any:
        """Carry out an incident that the technician proposes, as the reviewer."""
        from labtests import services

        incident = services.incident_propose(actor=self.technician, period=period, reason=reason)
        return services.incident_carry_out(actor=self.reviewer, incident=incident)


def calibrate(rig, cast):
    """Give a rig signed calibrations, with an entry each in the trail: as the services do, but all at once."""
    from django.utils import timezone

    from core.audit import Change, record_many
    from labtests.models import Calibration

    now = timezone.now()
    calibrations = Calibration.objects.bulk_create(
        Calibration(
            rig=rig,
            quantity=quantity,
            certificate=f"C-{quantity}",
            calibrated_on=dt.date(2025, 6, 1),
            due_on=dt.date(2026, 12, 31),
            standard_uncertainty=u,
            resolution=resolution,
            recorded_by=cast.technician,
            recorded_at=now,
            needs_signature=True,
            signed_by=cast.reviewer,
            signed_at=now,
        )
        for quantity, (u, resolution) in CALIBRATIONS.items()
    )
    record_many([Change("labtests.calibration.signed", one) for one in calibrations], actor=cast.reviewer)


@shared
def lab(cast):
    from catalogue import services as catalogue
    from labtests import services

    brand = catalogue.brand_create(actor=None, slug="fenwright", name="Fenwright")
    shoe = catalogue.shoe_create(actor=None, slug="fenrunner-2", brand=brand, name="Fenrunner", version="2")
    rig = services.rig_create(actor=cast.reviewer, code="rig-1", name="Rig one")
    calibrate(rig, cast)
    return Lab(technician=cast.technician, reviewer=cast.reviewer, shoe=shoe, rig=rig)


@pytest.fixture(autouse=True)
def _day_of_the_lab(monkeypatch):
    """The lab's files are of March 2026; uploads of these tests happen two days later at the earliest."""
    from django.utils import timezone

    real = timezone.now
    floor = dt.datetime(2026, 3, 6, tzinfo=dt.UTC)
    monkeypatch.setattr(timezone, "now", lambda: max(real(), floor))
