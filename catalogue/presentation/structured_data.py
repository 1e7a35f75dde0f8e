"""A shoe as schema.org describes products, for machines that read pages."""

from __future__ import annotations

import json
from typing import Any

from django.conf import settings
from django.urls import reverse
from django.utils.safestring import SafeString

from catalogue.presentation.addresses import shoe_url
from catalogue.presentation.shoes import description
from catalogue.presentation.words import SCORE_NAMES, USE_NAMES, version_text
from catalogue.selectors import ShoeRow
from core.web import display

# Codes of units as UN/ECE Recommendation 20 has them (from memory).
GRAM, MILLIMETRE = "GRM", "MMT"


def _score(name: str, shoe: ShoeRow) -> dict[str, Any]:
    score = shoe.scores()[name]
    found: dict[str, Any] = {
        "@type": "PropertyValue",
        "name": f"{SCORE_NAMES[name]} score",
        "value": round(score.value, 1),
        "measurementTechnique": f"bench test, protocol {version_text(shoe.protocol)}, "
        f"scoring model {version_text(shoe.scoring_model)}",
    }
    if score.expanded_uncertainty is not None and score.coverage_factor is not None:
        k = display.short(score.coverage_factor)
        found["description"] = f"expanded uncertainty ± {score.expanded_uncertainty:.1f} (k = {k})"
    return found


def _stated(shoe: ShoeRow) -> list[dict[str, Any]]:
    if shoe.drop_mm is None:
        return []
    return [{"@type": "PropertyValue", "name": "Drop", "value": round(shoe.drop_mm, 1), "unitCode": MILLIMETRE}]


def structured_data(shoe: ShoeRow) -> SafeString:
    """Return JSON-LD of a schema.org Product that cannot end the script element around it.

    It says nothing of prices or ratings: there are none here.
    """
    found: dict[str, Any] = {
        "@context": "https://schema.org",
        "@type": "Product",
        "name": shoe.title,
        "brand": {"@type": "Brand", "name": shoe.brand},
        "sku": shoe.slug,
        "url": settings.SITE_URL + shoe_url(shoe.slug),
        "image": settings.SITE_URL + reverse("catalogue:shoe-picture", args=[shoe.slug]),
        "description": description(shoe),
        "category": f"Shoes for {USE_NAMES[shoe.use]}",
        "additionalProperty": [*(_score(name, shoe) for name in SCORE_NAMES), *_stated(shoe)],
    }
    if shoe.mass_g is not None:
        found["weight"] = {"@type": "QuantitativeValue", "value": round(shoe.mass_g, 1), "unitCode": GRAM}
    text = json.dumps(found, ensure_ascii=False)
    for character in "<>&\u2028\u2029":
        text = text.replace(character, f"\\u{ord(character):04x}")
    return SafeString(text)  # the three characters that HTML could read as its own are escaped above
