"""Steps of tests of an adoption; those that need a process of their own by `python adoption_steps.py STEP`."""

from __future__ import annotations

import datetime as dt
import sys
import time
from typing import Any

MOMENT = dt.datetime(2026, 3, 6, tzinfo=dt.UTC)


def report(words: str) -> None:
    sys.stdout.write(f"{words}\n")
    sys.stdout.flush()


def prepare() -> None:
    """A lab with a published shoe of two specimens, and a draft."""
    from catalogue import services as catalogue
    from labtests import services
    from labtests.models import ScoringModel
    from tests.labtests.bench_text import bench_bytes, curve_rows
    from tests.labtests.conftest import CALIBRATIONS
    from tests.people import person

    people = {}
    for name, role in (("technician", "technician"), ("one", "reviewer"), ("two", "reviewer"), ("author", "reviewer")):
        people[name] = person(name, role)
    brand = catalogue.brand_create(actor=None, slug="fenwright", name="Fenwright")
    shoe = catalogue.shoe_create(actor=None, slug="fenrunner-2", brand=brand, name="Fenrunner", version="2")
    rig = services.rig_create(actor=people["one"], code="rig-1")
    for quantity, (u, resolution) in CALIBRATIONS.items():
        calibration = services.calibration_record(
            actor=people["technician"],
            rig=rig,
            quantity=quantity,
            certificate=f"C-{quantity}",
            calibrated_on=dt.date(2025, 6, 1),
            due_on=dt.date(2026, 12, 31),
            standard_uncertainty=u,
            resolution=resolution,
        )
        services.calibration_sign(actor=people["one"], calibration=calibration)
    for specimen in ("F2-01", "F2-02"):
        rows = curve_rows([(5.1 + d, 5.9 + d) for d in (-0.02, 0.0, 0.02)])
        upload = services.upload_store(
            actor=people["technician"], name=f"{specimen}.csv", data=bench_bytes(rows, specimen=specimen), at=MOMENT
        )
        services.bench_test_approve(actor=people["one"], test=upload.tests.get(), reason="")
    services.shoe_publish(actor=people["one"], shoe=shoe, reason="first tests")
    model = ScoringModel.objects.get(is_current=True)
    services.model_draft_create(actor=people["author"], version="S2", reason="new", source=model)


def adopt(name: str, pause: str = "0") -> None:
    """Adopt the draft; wait in the midst of it, when the results are written and the cards are not."""
    from core.domain.errors import DomainError
    from core.models import User
    from labtests.models import ModelDraft
    from labtests.services import model_adopt
    from labtests.services.scores import adoptions

    real = adoptions.score_cards_replace

    def slowly(**given):
        report("inside")
        time.sleep(float(pause))
        return real(**given)

    adoptions.score_cards_replace = slowly
    try:
        adoption = model_adopt(
            actor=User.objects.get(username=name), draft=ModelDraft.objects.get(), revision=1, reason="agreed"
        )
    except DomainError as problem:
        report(f"{problem.status} {problem.code}")
    else:
        report(f"adopted {adoption.tests} {adoption.cards}")


def upload() -> None:
    """Upload one more test, which waits while an adoption is under way."""
    from core.models import User
    from labtests import services
    from tests.labtests.bench_text import bench_bytes, curve_rows

    rows = curve_rows([(5.1 + d, 5.9 + d) for d in (-0.02, 0.0, 0.02)])
    stored = services.upload_store(
        actor=User.objects.get(username="technician"),
        name="late.csv",
        data=bench_bytes(rows, specimen="F2-09"),
        at=MOMENT,
    )
    report(stored.tests.get().results.get().scoring_model.version)


def look() -> dict[str, Any]:
    """Return the state of everything."""
    from catalogue.models import ScoreCard
    from core.audit.verification import faults
    from labtests.models import Adoption, ModelDraft, Result, ScoringModel

    return {
        "model": ScoringModel.objects.get(is_current=True).version,
        "models": ScoringModel.objects.count(),
        "results": Result.objects.count(),
        "adoptions": Adoption.objects.count(),
        "draft": ModelDraft.objects.get().state,
        "card": ScoreCard.objects.get(is_current=True).scoring_model,
        "faults": [str(fault) for fault in faults()],
    }


if __name__ == "__main__":
    import django

    django.setup()
    globals()[sys.argv[1]](*sys.argv[2:])
