"""Sums of squares of many shoes, from all their publishable tests."""

from __future__ import annotations

from collections.abc import Collection

import numpy as np

from labtests.domain.uncertainty.components import LevelSums
from labtests.models import ScoringModel, Specimen
from labtests.selectors.scores.pools import rig_setups, sums_of
from labtests.selectors.scores.rescoring import scored_tests
from labtests.selectors.scores.shoe_parts import places_of


def sums_by_shoe(model: ScoringModel, *, shoes: Collection[int] | None) -> tuple[list[int], dict[str, LevelSums]]:
    """Work out the sums of some shoes, or of all that have publishable tests.

    Returns
    -------
    tuple of list and dict
        The shoes' ids, and their sums by level in the same order.
    """
    tests = scored_tests(model, shoes=shoes)
    rows = np.flatnonzero(tests["is_publishable"])
    ids, specimen = np.unique(tests["specimen_id"][rows], return_inverse=True)
    by_specimen = dict(Specimen.objects.filter(pk__in=ids.tolist()).values_list("pk", "shoe_id"))
    shoe_ids, shoe_of = np.unique(
        np.array([by_specimen[pk] for pk in ids.tolist()], dtype=np.int64), return_inverse=True
    )
    anchors = model.to_domain()
    setups = rig_setups(np.unique(tests["rig_id"][rows]).tolist(), anchors)
    places = places_of(
        tests.columns, rows, specimen.astype(np.int64), shoe_of.astype(np.int64), setups=setups, shoes=len(shoe_ids)
    )
    readings = np.column_stack([tests[name][rows] for name in ("torque_15_nm", "deflection_mm", "work_j")])
    type_a = tests.parts.type_a.taken(rows)
    return shoe_ids.tolist(), sums_of(readings, type_a, places, setups, anchors)
