"""The names of things, for readers."""

from __future__ import annotations

from collections.abc import Mapping

from catalogue.models import Use

SCORE_NAMES: Mapping[str, str] = {
    "stability": "Stability",
    "midfoot": "Midfoot",
    "rearfoot": "Rearfoot",
    "cushioning": "Cushioning",
}


SCORE_MEANINGS: Mapping[str, str] = {
    "stability": "How much the shoe as a whole holds against rolling inward: midfoot and rearfoot together.",
    "midfoot": "How hard the shoe is to twist between heel and forefoot.",
    "rearfoot": "How little the heel sinks in under load.",
    "cushioning": "How much work the heel takes up while it is being loaded.",
}


FEATURE_NAMES: Mapping[str, str] = {**SCORE_NAMES, "mass_g": "Mass", "drop_mm": "Drop"}


# What more of a feature means, and what less.
DIRECTIONS: Mapping[str, tuple[str, str]] = {
    "stability": ("holds the foot more", "lets the foot roll more"),
    "midfoot": ("harder to twist", "easier to twist"),
    "rearfoot": ("firmer at the heel", "softer at the heel"),
    "cushioning": ("takes up more work at the heel", "takes up less work at the heel"),
    "mass_g": ("heavier", "lighter"),
    "drop_mm": ("higher drop", "lower drop"),
}


FEATURE_KINDS: Mapping[str, str] = {"mass_g": "mass", "drop_mm": "length"}


VERDICTS: Mapping[str, str] = {
    "same": "the same",
    "within": "within the uncertainty",
    "beyond": "larger than the uncertainty",
    "unknown": "uncertainty not known",
    "missing": "not measured",
}


USE_NAMES: Mapping[str, str] = {str(value): str(label) for value, label in Use.choices}
