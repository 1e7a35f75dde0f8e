"""The first steps of a new practice that the lab can check."""

from __future__ import annotations

from django.db.models import Count, Exists, Q

from catalogue.models import Shoe
from core.web.first_steps import Step, register
from labtests.models import BenchTest, CalibratedQuantity, Chamber, Rig


def rig_is_calibrated() -> Exists:
    """Every quantity of one rig has a calibration that counts; whether it is in date is shown on the rig's page."""
    signed = Q(calibrations__needs_signature=False) | Q(calibrations__signed_at__isnull=False)
    counting = signed & Q(calibrations__struck_at__isnull=True)
    counted = Rig.objects.annotate(known=Count("calibrations__quantity", filter=counting, distinct=True))
    return Exists(counted.filter(known=len(CalibratedQuantity.values)))


def chamber_exists() -> Exists:
    return Exists(Chamber.objects.all())


def bench_test_exists() -> Exists:
    return Exists(BenchTest.objects.all())


def publication_exists() -> Exists:
    return Exists(Shoe.objects.published())


register(
    Step(
        40,
        "Rig and calibrations",
        "A rig, with a calibration of each quantity that it measures, signed by a second person.",
        "labtests:rig-list",
        "labtests.rig:write",
        rig_is_calibrated,
    ),
    Step(
        50,
        "Conditioning chamber",
        "Where specimens stay for two days before a test.",
        "labtests:chamber-list",
        "labtests.conditioning:write",
        chamber_exists,
    ),
    Step(
        60,
        "First test",
        "A bench file uploaded, or readings typed in.",
        "labtests:upload-create",
        "labtests.upload:create",
        bench_test_exists,
    ),
    Step(
        70,
        "First publication",
        "A reviewer approves the test and publishes the shoe’s scores.",
        "labtests:shoe-list",
        "labtests.shoe:publish",
        publication_exists,
    ),
)
