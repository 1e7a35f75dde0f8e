"""The effective degrees of freedom of one output; the application works out those of many at once."""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np

from labtests.domain.uncertainty.propagation import Component, contributions, effective_dfs


def effective_df(components: Sequence[Component], sensitivities: Sequence[float]) -> float:
    given = contributions(np.array(sensitivities, dtype=float), np.array([part.u for part in components]))
    return float(effective_dfs(given, np.array([part.df for part in components])))
