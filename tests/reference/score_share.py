"""Score limits of a share (Wilson 1927), with which Newcombe's published intervals of differences were worked out."""

from __future__ import annotations

import math

from scipy.stats import norm

from fittings.domain.outcomes.comparisons import Estimate


def score_share(events: int, people: int, confidence: float = 0.95) -> Estimate:
    z2 = float(norm.ppf(0.5 + confidence / 2.0)) ** 2
    share = events / people
    middle = share + z2 / (2 * people)
    reach = math.sqrt(z2 * (share * (1 - share) / people + z2 / (4 * people**2)))
    scale = 1 + z2 / people
    low = 0.0 if events == 0 else (middle - reach) / scale
    high = 1.0 if events == people else (middle + reach) / scale
    return Estimate(share, low, high, "score (Wilson)")
