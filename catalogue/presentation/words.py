"""The names of things, for readers."""

from __future__ import annotations

import re
from collections.abc import Mapping

from catalogue.models import Use

SCORE_NAMES: Mapping[str, str] = {
    "stability": "Stability",
    "midfoot": "Midfoot",
    "rearfoot": "Rearfoot",
    "cushioning": "Cushioning",
}


SCORE_MEANINGS: Mapping[str, str] = {
    "stability": "How much the whole shoe resists rolling inward: midfoot and rearfoot together.",
    "midfoot": "How hard the shoe is to twist between heel and forefoot.",
    "rearfoot": "How little the heel compresses under load.",
    "cushioning": "How much energy the heel absorbs under load.",
}


FEATURE_NAMES: Mapping[str, str] = {**SCORE_NAMES, "mass_g": "Mass", "drop_mm": "Drop"}


# What more of a feature means, and what less.
DIRECTIONS: Mapping[str, tuple[str, str]] = {
    "stability": ("holds the foot more", "lets the foot roll more"),
    "midfoot": ("harder to twist", "easier to twist"),
    "rearfoot": ("firmer at the heel", "softer at the heel"),
    "cushioning": ("absorbs more energy at the heel", "absorbs less energy at the heel"),
    "mass_g": ("heavier", "lighter"),
    "drop_mm": ("higher drop", "lower drop"),
}


# The same as what a shoe does, after its name.
DOES: Mapping[str, tuple[str, str]] = {
    "stability": DIRECTIONS["stability"],
    "midfoot": ("is harder to twist", "is easier to twist"),
    "rearfoot": ("is firmer at the heel", "is softer at the heel"),
    "cushioning": DIRECTIONS["cushioning"],
    "mass_g": ("is heavier", "is lighter"),
    "drop_mm": ("has a higher drop", "has a lower drop"),
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


def version_text(code: str) -> str:
    """Write a version as customers read it, without the practice's short codes: "S1" is "version 1"."""
    number = re.fullmatch(r"[A-Z](\d[\w.-]*)", code)
    return f"version {number[1] if number else code}"


def clause(sentence: str) -> str:
    """Write a sentence so that it goes on after "because": "The rig …" is "the rig …"; "BENCH-1 …" stays."""
    return sentence if sentence[1:2].isupper() else sentence[:1].lower() + sentence[1:]
