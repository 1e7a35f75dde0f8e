"""The Cox model of a recurrence among those at risk."""

from __future__ import annotations

import datetime as dt

import numpy as np

from fittings.domain.outcomes.cox import CoxModel, cox_model
from fittings.selectors.outcomes.courses import OutcomeFilter, model_rows

TERMS: tuple[str, ...] = (
    "in the target",
    "body mass, per 10 kg",
    "complaints, each further one",
    "distance a week, per 10 km",
)


def risk_model(wanted: OutcomeFilter, *, on: dt.date) -> CoxModel:
    """Fit how soon a complaint came back on target, body mass, history and distance: one query.

    Each store has a baseline of its own, and the complaints of one person are taken together. The time with each shoe
    counts for that shoe.
    """
    rows = model_rows(wanted, on=on)
    design = np.array(
        [(row.in_target, row.body_mass_kg / 10.0, row.complaints, row.distance_km_week / 10.0) for row in rows],
        dtype=np.float64,
    ).reshape(len(rows), len(TERMS))
    return cox_model(
        design,
        np.array([row.days for row in rows], dtype=np.int64),
        [row.recurred for row in rows],
        TERMS,
        entered=np.array([row.entered for row in rows], dtype=np.int64),
        stratum=np.array([row.store for row in rows], dtype=np.int64),
        person=np.array([row.customer_id for row in rows], dtype=np.int64),
    )
