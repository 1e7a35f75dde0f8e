"""A shoe as the API says it: published, or as the record that staff look after."""

from __future__ import annotations

from typing import Any

from django.conf import settings

from catalogue.domain.gtin import short_gtin
from catalogue.models import CurveKind, Shoe
from catalogue.presentation import run_text
from catalogue.presentation.photos import photo_addresses
from catalogue.selectors import ShoeRow, StoreSizes
from catalogue.selectors.public.curves import CurveRow, ShoeCurves
from catalogue.selectors.public.photos import Photo
from catalogue.selectors.records.shoe_records import PUBLISHED, state_word
from catalogue.services import shoe_edition
from core.web import display

_UNMEASURED = ("scores", "band", "specimens", "tested_on", "scoring_model")
_STATED = ("slug", "name", "version", "use", "mass_g", "drop_mm", "stack_heel_mm", "stack_forefoot_mm")


def _stated(shoe: ShoeRow | Shoe, brand: str, state: str) -> dict[str, Any]:
    """Return what is stated of a shoe: everything but the lab's results and the stock."""
    prices = {currency: float(amount) for currency, amount in shoe.list_prices.items()}
    return {
        **{name: getattr(shoe, name) for name in _STATED},
        "brand": brand,
        "wearer": shoe.wearer,
        "widths": shoe.widths,
        **{name: _size(getattr(shoe, name)) for name in ("smallest_size_eu", "largest_size_eu", "stated_size_eu")},
        "price": prices.get(settings.CURRENCY),
        "prices": prices,
        "season": shoe.season,
        "removable_insole": shoe.removable_insole,
        "discontinued": shoe.is_discontinued,
        "state": state_word(state, is_discontinued=shoe.is_discontinued),
    }


def _size(size: Any) -> float | None:
    return None if size is None else float(size)


def shoe_body(shoe: ShoeRow, *, sizes: str | None = None, store: str | None = None) -> dict[str, Any]:
    """Return a published shoe, with the stock of one store or of all.

    `sizes` is the system that sizes are shown in beside EU, with the time since when they are known.
    """
    return {
        **_stated(shoe, shoe.brand, PUBLISHED),
        **_measured(shoe, sizes, store),
        "photo": photo_body(shoe.photo) if shoe.photo else None,
    }


def photo_body(photo: Photo) -> dict[str, Any]:
    """Return what a photo shows and the addresses of its files."""
    files = zip(photo_addresses(photo), photo.sizes_px, strict=True)
    return {
        "alternative_text": photo.alternative_text,
        "files": [
            {"url": settings.SITE_URL + address, "width_px": width, "height_px": height}
            for address, (width, height) in files
        ],
    }


def _stock(held: StoreSizes, system: str | None) -> dict[str, Any]:
    stock = {"slug": held.slug, "sizes": [f"EU {display.bare_size(size)}" for size in held.sizes]}
    if system is None:
        return stock
    return {
        **stock,
        "shown": run_text(held.sizes, system).replace(display.NO_BREAK, " "),
        "known_at": held.known_at.isoformat() if held.known_at else None,
    }


def _measured(shoe: ShoeRow, sizes: str | None = None, store: str | None = None) -> dict[str, Any]:
    return {
        "scores": {
            name: {
                "value": score.value,
                "expanded_uncertainty": score.expanded_uncertainty,
                "coverage_factor": score.coverage_factor,
                "degrees_of_freedom": score.degrees_of_freedom,
                "estimated": score.estimated,
            }
            for name, score in shoe.scores().items()
        },
        "band": {
            "order": shoe.band.order,
            "name": shoe.band.name,
            "probability": shoe.band.probability,
            "borderline": shoe.band.borderline,
            "provisional": shoe.band.provisional,
        },
        "specimens": shoe.specimens,
        "tested_on": shoe.tested_on,
        "scoring_model": shoe.scoring_model,
        "stores": [_stock(held, sizes) for held in shoe.stores if store in (None, held.slug)],
    }


def record_body(record: Any, published: ShoeRow | None) -> dict[str, Any]:
    """Return a shoe for staff: with what visitors do not see, and without results where none are published."""
    measured = _measured(published) if published else {**dict.fromkeys(_UNMEASURED), "specimens": 0, "stores": []}
    return {
        **_stated(record, record.brand.name, record.state),
        **measured,
        "previous": record.previous.slug if record.previous else None,
        "merged_into": record.merged_into.slug if record.merged_into else None,
        "note": record.note,
        "alternative_names": record.alternative_names,
        "barcodes": [
            {"gtin": short_gtin(row.gtin), "size_eu": _size(row.size_eu), "width": row.width}
            for row in record.barcodes.all()
        ],
        "edition": shoe_edition(record),
    }


def curves_body(curves: ShoeCurves) -> dict[str, Any]:
    return {
        "torsion": _curve(curves.get(CurveKind.TORSION), "angle_deg", "torque", "nm"),
        "compression": _curve(curves.get(CurveKind.COMPRESSION), "force_n", "deflection", "mm"),
    }


def _curve(curve: CurveRow | None, at: str, read: str, unit: str) -> dict[str, Any] | None:
    if curve is None:
        return None
    return {
        "specimens": curve.specimens,
        "recordings": curve.recordings,
        at: curve.at,
        f"{read}_{unit}": curve.mean,
        f"{read}_least_{unit}": curve.low,
        f"{read}_most_{unit}": curve.high,
    }
