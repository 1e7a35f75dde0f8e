"""A photo as HTML shows it: an address for each width."""

from __future__ import annotations

from dataclasses import dataclass

from django.urls import reverse

from catalogue.selectors.public.photos import Photo

# How wide the photo is drawn: the narrow column of a shoe's page, or above what is said of the shoe.
SIZES = "(min-width: 60rem) 24rem, 18rem"


@dataclass(frozen=True, slots=True)
class PhotoText:
    """What an `<img>` says of a photo; width and height are those of the largest file, px."""

    address: str
    addresses: str
    sizes: str
    width: int
    height: int
    text: str
    digest: str


def photo_addresses(photo: Photo) -> list[str]:
    """Return the addresses of a photo's files, narrowest first."""
    return [reverse("catalogue:photo-file", args=[photo.digest, width]) for width, _ in photo.sizes_px]


def photo_text(photo: Photo | None) -> PhotoText | None:
    if photo is None:
        return None
    addresses = photo_addresses(photo)
    return PhotoText(
        address=addresses[min(1, len(addresses) - 1)],
        addresses=", ".join(
            f"{address} {width}w" for address, (width, _) in zip(addresses, photo.sizes_px, strict=True)
        ),
        sizes=SIZES,
        width=photo.sizes_px[-1][0],
        height=photo.sizes_px[-1][1],
        text=photo.alternative_text,
        digest=photo.digest,
    )
