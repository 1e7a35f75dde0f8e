"""The wall on a screen, and as a poster: the scale of all shoes, or of those that a store has."""

from __future__ import annotations

import datetime as dt
from collections.abc import Sequence
from dataclasses import dataclass
from typing import Any

from django.conf import settings
from django.http import HttpRequest, HttpResponse
from django.shortcuts import render
from django.urls import reverse
from django.utils import timezone
from django.utils.http import urlencode
from django.views.decorators.http import require_safe

from catalogue import forms, selectors
from catalogue.domain.filters import ShoeFilter
from catalogue.domain.papers import PAPERS
from catalogue.drawings import screen as drawings
from catalogue.selectors import Revision, ShoePoint
from catalogue.selectors.public.published import published_days_at
from catalogue.selectors.public.scales import bands_at
from catalogue.selectors.public.stores import store_names_at
from catalogue.views.caching import page_by_revision_and
from catalogue.views.common import refuse
from core.gate.access import PUBLIC, gate

LISTED = 6
SECONDS = 15
NEW_DAYS = 14
LONG = 26
"""Where a name of the page has more letters, all of them are smaller, and on two lines where they need them."""

DRAWN_MOST = 400
"""So many shoes get a mark each; where there are more, those of the page alone."""


def _today() -> str:
    return timezone.localdate().isoformat()


@dataclass(frozen=True, slots=True)
class _Wall:
    """The shoes of a wall: all of them, or those that a store has."""

    points: Sequence[ShoePoint]
    title: str


def _wall(asked: forms.WallAsked, revision: Revision) -> _Wall:
    selection = selectors.select_shoes(ShoeFilter(store=asked.store or None), revision=revision)
    points = [point for point in selection.points(selection.left_rows()) if point.is_match]
    return _Wall(points, store_names_at(revision).get(asked.store, "All measured shoes"))


def _address(name: str, **query: Any) -> str:
    given = {key: value for key, value in query.items() if value}
    return reverse(name) + (f"?{urlencode(given)}" if given else "")


@gate(PUBLIC)
@require_safe
@page_by_revision_and(_today)
def screen(request: HttpRequest, *, revision: Revision) -> HttpResponse:
    """Show the scale with some of the shoes in large letters; the page turns to the next ones by itself."""
    try:
        asked = forms.wall_asked(request.GET, store_names_at(revision))
    except forms.BadQuery as problem:
        return refuse(request, problem)
    wall = _wall(asked, revision)
    pages = max(1, -(-len(wall.points) // LISTED))
    # Nobody is beside a display: a page beyond the last one begins again.
    here = (asked.page - 1) % pages
    listed = wall.points[here * LISTED : (here + 1) * LISTED]
    new = _new(listed, revision)
    context = {
        "title": wall.title,
        "count": len(wall.points),
        "scales": _drawn(wall.points, listed, revision) if wall.points else (),
        "shoes": [(point, point.slug in new) for point in listed],
        "has_long_names": any(len(point.title) > LONG for point in listed),
        "page": here + 1,
        "pages": pages,
        "seconds": SECONDS,
        "new_days": NEW_DAYS,
        "is_still": asked.is_still,
        "next_url": _address("catalogue:screen", store=asked.store, page=(here + 1) % pages + 1),
        "still_url": _address("catalogue:screen", store=asked.store, page=here + 1, still="yes"),
    }
    return render(request, "catalogue/screen.html", context)


def _new(points: Sequence[ShoePoint], revision: Revision) -> set[str]:
    """Return the shoes whose scores were published in the last days."""
    since, days = timezone.now() - dt.timedelta(days=NEW_DAYS), published_days_at(revision)
    return {point.slug for point in points if point.slug in days and days[point.slug] >= since}


def _drawn(
    points: Sequence[ShoePoint], listed: Sequence[ShoePoint], revision: Revision
) -> tuple[drawings.ScreenScale, ...]:
    """Draw the scale for a display that is wider than high and for one that is higher than wide."""
    shown = points if len(points) <= DRAWN_MOST else listed
    slugs, new, bands = {point.slug for point in listed}, _new(shown, revision), bands_at(revision)
    return tuple(
        drawings.screen_scale(shown, bands, shape, listed=slugs, new=new) for shape in (drawings.WIDE, drawings.TALL)
    )


@gate(PUBLIC)
@require_safe
@page_by_revision_and(_today)
def poster(request: HttpRequest, *, revision: Revision) -> HttpResponse:
    """Show the poster to be printed, and offer it as a file."""
    return _poster(request, revision, "catalogue/poster.html")


@gate(PUBLIC)
@require_safe
@page_by_revision_and(_today)
def poster_file(request: HttpRequest, *, revision: Revision) -> HttpResponse:
    """Send the poster as an SVG file of the size of its paper."""
    response = _poster(request, revision, "catalogue/poster.svg", "image/svg+xml")
    if response.status_code == 200:
        response.headers["Content-Disposition"] = 'attachment; filename="stability-scale.svg"'
    return response


def _poster(request: HttpRequest, revision: Revision, template: str, kind: str | None = None) -> HttpResponse:
    try:
        asked = forms.wall_asked(request.GET, store_names_at(revision))
        wall = _wall(asked, revision)
        _check_room(wall)
    except forms.BadQuery as problem:
        return refuse(request, problem)
    page = reverse("catalogue:store-detail", args=[asked.store]) if asked.store else reverse("catalogue:shoe-list")
    paper = PAPERS[asked.paper]
    context = {
        "title": wall.title,
        "poster": drawings.poster(wall.points, bands_at(revision), settings.SITE_URL + page),
        "count": len(wall.points),
        "store": asked.store,
        "stores": store_names_at(revision),
        "papers": PAPERS,
        "paper": paper,
        "chosen": asked.paper,
        "today": timezone.localdate(),
        "file_url": _address("catalogue:poster-file", store=asked.store, paper=asked.paper),
    }
    return render(request, template, context, content_type=kind)


def _check_room(wall: _Wall) -> None:
    if len(wall.points) > drawings.POSTER_MOST:
        words = f"A poster has room for {drawings.POSTER_MOST} shoes, not for {len(wall.points)}. Choose a store."
        raise forms.BadQuery({"store": [words]})
