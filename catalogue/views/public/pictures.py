"""Pictures for those who show a preview of a page: a shoe, and the catalogue."""

from __future__ import annotations

from django.http import Http404, HttpRequest, HttpResponse
from django.views.decorators.http import require_safe

from catalogue import drawings, selectors
from catalogue.domain.filters import ShoeFilter
from catalogue.selectors import Revision, ShoeRow
from catalogue.selectors.public.photos import photo_file, photo_of
from catalogue.selectors.public.scales import bands_at
from catalogue.services.records import photo_files
from catalogue.views.caching import page_by_revision
from catalogue.views.common import lead_from_old_address, or_404
from core.gate.access import PUBLIC, gate

PNG = "image/png"


@gate(PUBLIC)
@require_safe
@lead_from_old_address
@page_by_revision
def shoe_picture(request: HttpRequest, *, slug: str, revision: Revision) -> HttpResponse:
    shoe = or_404(selectors.shoe_get, slug)
    return HttpResponse(drawings.shoe_picture(shoe, bands_at(revision), _photo_of(shoe)), content_type=PNG)


def _photo_of(shoe: ShoeRow) -> bytes | None:
    """Return the smallest file of a shoe's photo; None without one, or where it can't be read at the moment."""
    photo = photo_of(shoe.id)
    file = photo_file(photo.digest, photo.sizes_px[0][0]) if photo else None
    if photo is None or file is None:
        return None
    try:
        return photo_files.read(file.key, photo.sizes_px[0][0])
    except (FileNotFoundError, photo_files.StorageFailed):
        return None


@gate(PUBLIC)
@require_safe
@page_by_revision
def catalogue_picture(request: HttpRequest, *, revision: Revision) -> HttpResponse:
    selection, bands = selectors.select_shoes(ShoeFilter(), revision=revision), bands_at(revision)
    if not selection.matching:
        raise Http404("Nothing is published yet.")
    density = drawings.density_of(selection, bands)
    picture = drawings.catalogue_picture(density.every, (density.low, density.high), bands)
    return HttpResponse(picture, content_type=PNG)
