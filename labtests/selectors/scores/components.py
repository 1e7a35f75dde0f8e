"""The variance components that publications take, by score and by rig, with what they are estimated from."""

from __future__ import annotations

import datetime as dt
from dataclasses import dataclass

import numpy as np
from django.db.models import Avg, F

from core.database.array_rows import read_columns
from core.domain.units import FloatArray
from labtests.domain.scores.scoring import SCORES
from labtests.domain.uncertainty.components import Component, Homogeneity, component, homogeneity
from labtests.domain.uncertainty.planner import KnownScatter
from labtests.domain.uncertainty.reading_squares import by_model, squares_of_scatter
from labtests.domain.uncertainty.scatter import Scatter
from labtests.models import Level, Result, Rig, ScoringModel, Source, VariancePool
from labtests.models.scatter import SQUARES
from labtests.selectors.scores import methods
from labtests.selectors.scores.pools import pools_stored
from labtests.selectors.scores.setups import setup_of_score, setups_of_rigs


@dataclass(frozen=True, slots=True, eq=False)
class PooledComponent:
    """One level of one score: `spread` are the standard deviations of single shoes, points."""

    level: str
    score: str
    found: Component | None
    alike: Homogeneity
    spread: FloatArray


@dataclass(frozen=True, slots=True)
class RigScatter:
    """What is known of a rig: repeats (None without any) and the parts of day and set-up."""

    rig: Rig
    repeats: Scatter | None
    setups: tuple[Scatter, ...]


@dataclass(frozen=True, slots=True, eq=False)
class Components:
    """All components under the scoring model in use; `at` is the last publication that changed them."""

    model: ScoringModel
    at: dt.datetime | None
    pooled: tuple[PooledComponent, ...]
    rigs: tuple[RigScatter, ...]
    repeats_alike: Homogeneity


def component_list() -> Components:
    """Read every component. The number of queries grows with the rigs alone."""
    model = methods.scoring_model_current()
    weights = by_model(model.to_domain())
    pools, at = pools_stored(), VariancePool.objects.order_by("-at").values_list("at", flat=True).first()
    pooled = []
    for level in Level.values:
        df, squares = _of_shoes(level)
        for name in SCORES:
            variances = np.maximum(squares @ weights[name], 0.0) / np.maximum(df, 1.0)
            alike = homogeneity(variances, df)
            found = component(pools[level], weights[name])
            pooled.append(PooledComponent(level, name, found, alike, np.sqrt(variances)))
    rigs = _rigs(model)
    known = [(rig.repeats, weights["stability"]) for rig in rigs if rig.repeats is not None]
    variances = np.array([max(0.0, float(weight @ squares_of_scatter(scatter))) for scatter, weight in known])
    alike = homogeneity(variances, np.array([scatter.df for scatter, _ in known]))
    return Components(model, at, tuple(pooled), rigs, alike)


def _of_shoes(level: str) -> tuple[FloatArray, FloatArray]:
    """Degrees of freedom and squares of each shoe in a pool."""
    columns = {"df": (f"{level}_df::float8", "double precision")}
    columns |= {str(at): (f"{level}_squares[{at}]", "double precision") for at in range(1, SQUARES + 1)}
    found = read_columns(f"labtests_shoescatter WHERE {level}_df > 0", columns)
    return found["df"], np.column_stack([found[str(at)] for at in range(1, SQUARES + 1)])


def _rigs(model: ScoringModel) -> tuple[RigScatter, ...]:
    rigs = list(Rig.objects.order_by("code"))
    setups = setups_of_rigs([rig.pk for rig in rigs], model.to_domain())
    return tuple(RigScatter(rig, repeats_of_rig(rig), setups[rig.pk]) for rig in rigs)


def repeats_of_rig(rig: Rig) -> Scatter | None:
    """The pooled scatter of a rig's repeats: of curves, of readings where there are no curves."""
    return methods.scatter_of_rig(rig, Source.CURVES) or methods.scatter_of_rig(rig, Source.READINGS)


def scatter_for_plan(rig: Rig, score: str) -> KnownScatter | None:
    """What a plan on a rig can count on; None where nothing is known of repeats or of specimens yet."""
    model = methods.scoring_model_current()
    weights = by_model(model.to_domain())[score]
    repeats = repeats_of_rig(rig)
    between = component(pools_stored()[Level.SPECIMENS], weights)
    left = Result.objects.filter(scoring_model=model, test__rig=rig, **{f"{score}_u_b__isnull": False})
    common = left.aggregate(mean=Avg(F(f"{score}_u_b") * F(f"{score}_u_b")))["mean"]
    if repeats is None or between is None or common is None:
        return None
    setup2, setup_df = setup_of_score(setups_of_rigs([rig.pk], model.to_domain())[rig.pk], weights)
    return KnownScatter(
        repeats2=max(0.0, float(weights @ squares_of_scatter(repeats))),
        repeats_df=repeats.df,
        setup2=setup2,
        setup_df=setup_df,
        specimens2=between.variance,
        specimens_below=between.below,
        common=float(np.sqrt(common)),
    )
