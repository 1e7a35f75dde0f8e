"""Scale S1, which every installation starts with.

The limits are the practice's own; who a band suits is common practice without a published source, worded for the
practice to edit.
"""

from __future__ import annotations

from django.db import transaction

from catalogue.models import Band, Scale
from core import audit
from core.standard import register_installer

SCALE_S1 = (
    (
        1,
        "Very little hold",
        None,
        50.0,
        "Walkers of any body mass; runners with little inward roll, up to 82 kg.",
        82.0,
    ),
    (2, "Little hold", 50.0, 60.0, "Slight inward roll; heavier runners with little.", None),
    (3, "Medium hold", 60.0, 70.0, "Moderate inward roll.", None),
    (
        4,
        "Strong hold",
        70.0,
        80.0,
        "Marked inward roll, or moderate with high body mass; returning after heel, inner-shin or front-of-knee pain.",
        None,
    ),
    (
        5,
        "Very strong hold",
        80.0,
        None,
        "Marked inward roll with high body mass, or with such pain now, under the care of a clinician.",
        None,
    ),
)


@transaction.atomic
def install_scale() -> None:
    if Scale.objects.filter(version="S1").exists():
        return
    scale = Scale.objects.create(version="S1")
    for order, name, lower, upper, suits, mass in SCALE_S1:
        Band.objects.create(
            scale=scale, order=order, name=name, lower=lower, upper=upper, suits=suits, runner_mass_max_kg=mass
        )
    audit.record(actor=None, action="catalogue.scale.created", subject=scale, reason="standard data")


audit.register_record(Scale, related=("bands",))
audit.register_action("catalogue.scale.created", "made the scale {subject}")
register_installer(install_scale)
