"""The scale of bands that the catalogue shows."""

from __future__ import annotations

from dataclasses import dataclass

from django.db.models import Count

from catalogue.models import Band, Scale
from catalogue.selectors.public.revision import kept_with_shoes
from catalogue.selectors.public.rows import current_cards

_COLUMNS = ("scale__version", "order", "name", "lower", "upper", "suits", "runner_mass_max_kg")


@dataclass(frozen=True, slots=True)
class BandRow:
    """One band; `shoes` counts the published shoes in it."""

    scale: str
    order: int
    name: str
    lower: float | None
    upper: float | None
    suits: str
    runner_mass_max_kg: float | None
    shoes: int


def band_list() -> tuple[BandRow, ...]:
    """Return the bands, lowest first, of the scale published last, or where nothing is published of the newest."""
    newest = Scale.objects.order_by("-id").values_list("id", flat=True).first()
    published = current_cards().order_by("-published_at", "-id").values_list("scale_id", flat=True).first()
    scale_id = published or newest or 0
    bands = Band.objects.filter(scale_id=scale_id).order_by("order").values("id", *_COLUMNS)
    counted = current_cards().filter(scale_id=scale_id).order_by().values_list("band_id").annotate(Count("id"))
    shoes: dict[int, int] = dict(counted)
    return tuple(
        BandRow(scale=band.pop("scale__version"), shoes=shoes.get(band.pop("id"), 0), **band) for band in bands
    )


bands_at = kept_with_shoes(band_list)
