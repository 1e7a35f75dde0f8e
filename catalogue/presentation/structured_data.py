"""A shoe as schema.org describes products, for machines that read pages."""

from __future__ import annotations

import json
from typing import Any

from django.conf import settings
from django.urls import reverse
from django.utils.safestring import SafeString

from catalogue.presentation.addresses import shoe_url
from catalogue.presentation.photos import photo_addresses
from catalogue.presentation.shoes import description
from catalogue.presentation.words import SCORE_NAMES, USE_NAMES, version_text
from catalogue.selectors import ShoeRow
from catalogue.selectors.public.stores import StoreRow
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

    Offers are there where a list price is known and a store has the shoe. Of ratings it says nothing: there are none.
    """
    found: dict[str, Any] = {
        "@context": "https://schema.org",
        "@type": "Product",
        "name": shoe.title,
        "brand": {"@type": "Brand", "name": shoe.brand},
        "sku": shoe.slug,
        "url": settings.SITE_URL + shoe_url(shoe.slug),
        "image": _images(shoe),
        "description": description(shoe),
        "category": f"Shoes for {USE_NAMES[shoe.use]}",
        "additionalProperty": [*(_score(name, shoe) for name in SCORE_NAMES), *_stated(shoe)],
    }
    if shoe.mass_g is not None:
        found["weight"] = {"@type": "QuantitativeValue", "value": round(shoe.mass_g, 1), "unitCode": GRAM}
    if offers := _offers(shoe):
        found["offers"] = offers
    return _written(found)


def _images(shoe: ShoeRow) -> list[str]:
    """The practice's photo in its largest width, where there is one, and the picture with the score."""
    photo = photo_addresses(shoe.photo)[-1:] if shoe.photo else []
    return [settings.SITE_URL + address for address in (*photo, reverse("catalogue:shoe-picture", args=[shoe.slug]))]


def _offers(shoe: ShoeRow) -> dict[str, Any] | None:
    """An offer of each store that has the shoe, at the list price in the practice's currency."""
    price = shoe.list_prices.get(settings.CURRENCY)
    if price is None or not shoe.stores:
        return None
    each = {"price": str(price), "priceCurrency": settings.CURRENCY, "availability": "https://schema.org/InStock"}
    sellers = [_store(store.slug, store.name) for store in shoe.stores]
    return {
        "@type": "AggregateOffer",
        "priceCurrency": settings.CURRENCY,
        "lowPrice": str(price),
        "highPrice": str(price),
        "offerCount": len(sellers),
        "offers": [{"@type": "Offer", **each, "seller": seller} for seller in sellers],
    }


def _store(slug: str, name: str) -> dict[str, Any]:
    address = settings.SITE_URL + reverse("catalogue:store-detail", args=[slug])
    return {"@type": "ShoeStore", "@id": address, "name": name, "url": address}


def structured_store(store: StoreRow) -> SafeString:
    """Return JSON-LD of a schema.org ShoeStore; opening hours are free text here and are left out."""
    parts = {"streetAddress": store.street, "postalCode": store.postcode, "addressLocality": store.town}
    known = {name: text for name, text in parts.items() if text}
    found: dict[str, Any] = {"@context": "https://schema.org", **_store(store.slug, store.name)}
    if known:
        found["address"] = {"@type": "PostalAddress", **known}
    if store.phone:
        found["telephone"] = store.phone
    return _written(found)


def _written(found: dict[str, Any]) -> SafeString:
    """Write JSON so that it cannot end the script element around it."""
    text = json.dumps(found, ensure_ascii=False)
    for character in "<>&\u2028\u2029":
        text = text.replace(character, f"\\u{ord(character):04x}")
    return SafeString(text)  # the three characters that HTML could read as its own are escaped above
