"""The effective degrees of freedom of one output; the application works out those of all scores at once."""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np

from labtests.domain.uncertainty.propagation import Component, contributions, effective_dfs


def effective_df(components: Sequence[Component], sensitivities: Sequence[float]) -> float:
    return float(effective_dfs(components, contributions(components, np.array([sensitivities], dtype=float)))[0])
