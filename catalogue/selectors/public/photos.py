"""Photos of shoes: what a page shows of one, and which file an address means."""

from __future__ import annotations

from dataclasses import dataclass

from django.db.models import Exists, OuterRef

from catalogue.domain.photos import WIDTHS_PX
from catalogue.models import ScoreCard, ShoePhoto


@dataclass(frozen=True, slots=True)
class Photo:
    """A photo as a page shows it: widths and heights in px, narrowest first."""

    digest: str
    alternative_text: str
    sizes_px: tuple[tuple[int, int], ...]


@dataclass(frozen=True, slots=True)
class PhotoFile:
    """Where a file is stored, and whether everybody may see it: the shoe is published."""

    key: str
    is_public: bool


def photo_of(shoe_id: int) -> Photo | None:
    """Return the photo of a shoe, published or not."""
    columns = ("digest", "alternative_text", "widths_px", "heights_px")
    line = ShoePhoto.objects.filter(shoe_id=shoe_id).values_list(*columns).first()
    if line is None:
        return None
    digest, text, widths, heights = line
    return Photo(digest, text, tuple(zip(widths, heights, strict=True)))


def photo_file(digest: str, width_px: int) -> PhotoFile | None:
    """Return the stored file of a photo in one width; of two shoes with the same picture rather the published one."""
    if width_px not in range(1, WIDTHS_PX[-1] + 1):
        return None
    published = Exists(ScoreCard.objects.filter(shoe=OuterRef("shoe"), is_current=True))
    photos = ShoePhoto.objects.filter(digest=digest, widths_px__contains=[width_px]).annotate(is_public=published)
    line = photos.order_by("-is_public", "pk").values_list("folder_key", "is_public").first()
    return None if line is None else PhotoFile(*line)
