"""The logistic model of a recurrence among those at risk."""

from __future__ import annotations

import datetime as dt

import numpy as np

from fittings.domain.outcomes.logistic import LogisticModel, logistic_model
from fittings.selectors.courses import OutcomeFilter, model_rows

TERMS: tuple[str, ...] = (
    "in the target",
    "body mass, per 10 kg",
    "complaints, each further one",
    "distance a week, per 10 km",
)


def risk_model(wanted: OutcomeFilter, *, on: dt.date) -> LogisticModel:
    """Fit whether a complaint came back on target, body mass, history and distance: one query."""
    rows = model_rows(wanted, on=on)
    design = np.array(
        [(row.in_target, row.body_mass_kg / 10.0, row.complaints, row.distance_km_week / 10.0) for row in rows],
        dtype=np.float64,
    ).reshape(len(rows), len(TERMS))
    return logistic_model(design, [row.recurred for row in rows], TERMS)
