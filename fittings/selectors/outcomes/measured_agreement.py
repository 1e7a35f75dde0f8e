"""How far two fitters agree on what is measured: degrees and millimetres."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from django.db.models import QuerySet

from fittings.domain.outcomes.reliability import Reliability, reliability
from fittings.models import Fitting, FootObservation, SecondObservation
from fittings.selectors.outcomes import noise
from fittings.selectors.outcomes.agreement import PEOPLE_LEAST, observed_twice
from fittings.selectors.outcomes.courses import OutcomeFilter

MEASURES: tuple[tuple[str, str, str], ...] = (
    ("rearfoot_eversion_deg", "Rearfoot eversion", "°"),
    ("pronation_deg", "Pronation", "°"),
    ("tibial_rotation_deg", "Tibial rotation", "°"),
    ("navicular_drop_mm", "Navicular drop", "mm"),
    ("length_mm", "Foot length", "mm"),
    ("width_mm", "Foot width", "mm"),
)


@dataclass(frozen=True, slots=True)
class MeasuredAgreement:
    """One measure by two fitters on the same people; `found` is None for fewer than ten."""

    name: str
    label: str
    unit: str
    n: int
    found: Reliability | None


def measured_agreements(wanted: OutcomeFilter, *, hides: bool = False) -> list[MeasuredAgreement]:
    """Agreement on each measure, one foot a person: two queries.

    The left foot counts, or the right one where both fitters measured only that: two feet of a person are alike, and
    counting both would make the intervals too narrow. Over stores (`hides`) the number of people has noise.
    """
    names = [name for name, _, _ in MEASURES]
    second = _feet(observed_twice(wanted), names)
    first = _feet(FootObservation.objects.filter(fitting__in={fitting for fitting, _ in second}), names)
    customers = dict(_customers({fitting for fitting, _ in second})) if hides else {}
    return [_measured(*measure, first=first, second=second, customers=customers) for measure in MEASURES]


Feet = dict[tuple[int, str], dict[str, float]]


def _feet(feet: QuerySet[FootObservation] | QuerySet[SecondObservation], names: list[str]) -> Feet:
    return {
        (fitting, foot): {name: value for name, value in zip(names, values, strict=True) if value is not None}
        for fitting, foot, *values in feet.order_by("fitting", "foot").values_list("fitting_id", "foot", *names)
    }


def _customers(fittings: set[int]) -> QuerySet[Fitting, tuple[int, int | None]]:
    return Fitting.objects.filter(pk__in=fittings).values_list("pk", "customer_id")


def _measured(
    name: str, label: str, unit: str, *, first: Feet, second: Feet, customers: dict[int, int | None]
) -> MeasuredAgreement:
    pairs: dict[int, tuple[float, float]] = {}
    # "left" comes before "right".
    for (fitting, foot), seen in sorted(second.items()):
        one, other = first.get((fitting, foot), {}).get(name), seen.get(name)
        if one is not None and other is not None:
            pairs.setdefault(fitting, (one, other))
    n = len(pairs)
    found = reliability(np.array(list(pairs.values()))) if n >= PEOPLE_LEAST else None
    if customers:
        n = noise.noisy(n, int(noise.record_keys([customers[fitting] for fitting in pairs]).sum()))
    return MeasuredAgreement(name, label, unit, n, found)
