"""The pages of single shoes: one, what is near it, several side by side, and what replaces one."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace
from typing import Any
from urllib.parse import urlencode

from django.core.paginator import Page
from django.http import HttpRequest, HttpResponse
from django.shortcuts import render
from django.utils.safestring import SafeString
from django.views.decorators.http import require_safe

from catalogue import drawings, forms, presentation, selectors
from catalogue.domain.filters import ShoeFilter
from catalogue.presentation import sharing
from catalogue.presentation.curves import CurveText
from catalogue.presentation.problems import sentences_with_labels
from catalogue.presentation.words import clause
from catalogue.selectors import Available, Revision, ShoeRow, SimilarPage
from catalogue.selectors.public import method
from catalogue.selectors.public.curves import curves_of
from catalogue.selectors.public.scales import bands_at
from catalogue.selectors.public.stores import sizes_at, store_names_at
from catalogue.selectors.records.shoe_records import current_address
from catalogue.views.caching import page_by_revision
from catalogue.views.common import lead_from_old_address, or_404, page_gone, page_of, refuse
from catalogue.views.size_system import size_system_of
from core.gate.access import PUBLIC, gate
from core.gate.context import units_of
from core.web import display
from core.web.jinja import fragment

NEAREST_SHOWN = 4
NEAREST_PAGE = 12
FOUND_SHOWN = 12


def _strip(shoes: Sequence[ShoeRow], revision: Revision) -> SafeString:
    """Draw a few shoes on the scale, for wide screens and for phones."""
    points = [presentation.point_of(shoe) for shoe in shoes]
    label = f"{display.listed([shoe.title for shoe in shoes])} on the stability scale"
    return drawings.markup(points, bands_at(revision), (drawings.STRIP, drawings.STRIP_SMALL), label)


def _curves(shoes: Sequence[ShoeRow], units: str) -> list[tuple[CurveText, SafeString]]:
    """Pair each kind of measured curve with its drawing."""
    texts = presentation.curve_texts(shoes, curves_of([shoe.id for shoe in shoes]), units)
    return [(text, drawings.curves_markup(text, units)) for text in texts]


def _versions(shoe: ShoeRow, units: str, revision: Revision) -> list[presentation.VersionText]:
    """Say what came before a shoe and after it, and what changed."""
    found = []
    for other in selectors.versions_for_shoe(shoe):
        older, newer = (shoe.slug, other.slug) if other.is_newer else (other.slug, shoe.slug)
        (differences,) = or_404(selectors.compare, [older, newer], revision=revision)
        found.append(presentation.version_text(other, differences, units))
    return found


@gate(PUBLIC)
@require_safe
@lead_from_old_address
@page_by_revision
def shoe_detail(request: HttpRequest, *, slug: str, revision: Revision) -> HttpResponse:
    if slug not in selectors.columns_at(revision).rows and (withdrawn := selectors.withdrawn_get(slug)):
        return _withdrawn_page(request, withdrawn)
    shoe, units = or_404(selectors.shoe_get, slug), units_of(request)
    near = or_404(selectors.similar_page, slug, revision=revision, limit=NEAREST_SHOWN, with_stock=False)
    lab, photo = method.lab(), presentation.photo_text(shoe.photo)
    procedure = lab.procedure(units) if lab else None
    context = {
        "shoe": shoe,
        "photo": photo,
        "silhouette": "" if photo else drawings.silhouette_markup(shoe, units),
        "canonical": presentation.shoe_url(slug),
        "description": presentation.description(shoe),
        "structured": presentation.structured_data(shoe),
        "strip": _strip([shoe], revision),
        "scores": presentation.score_texts(shoe, or_404(selectors.ranks_for_shoe, slug, revision=revision)),
        "distribution": drawings.score_distribution_markup(shoe.stability, bands_at(revision)),
        "band_notes": presentation.band_notes(shoe),
        "readings": presentation.readings(shoe, procedure, units),
        "procedure": procedure,
        "curves": _curves([shoe], units),
        "facts": presentation.shoe_facts(shoe, units),
        "measured": presentation.measured_facts(shoe),
        "stock": presentation.stock_lines(shoe, size_system_of(request)),
        "size_systems": presentation.size_system_options(size_system_of(request)),
        "near": [presentation.similar_text(other, units) for other in near.shoes],
        "versions": _versions(shoe, units, revision),
        "history": presentation.history_lines(selectors.history_for_shoe(shoe)),
    }
    return render(request, "catalogue/shoe_detail.html", context)


def _withdrawn_page(request: HttpRequest, shoe: selectors.Withdrawn) -> HttpResponse:
    """Say that a shoe was withdrawn, when and why, and where to look instead."""
    because = clause(shoe.because)
    context = {"shoe": shoe, "because": because, "canonical": presentation.shoe_url(shoe.slug)}
    return render(request, "catalogue/shoe_withdrawn.html", context)


def _near(slug: str, asked: forms.Nearby, revision: Revision) -> SimilarPage:
    near: SimilarPage = or_404(
        selectors.similar_page,
        slug,
        revision=revision,
        limit=NEAREST_PAGE,
        offset=(asked.page - 1) * NEAREST_PAGE,
        available=Available(asked.size.eu if asked.size else None, asked.store) if asked.is_available else None,
        weighed=asked.weighed,
    )
    return near


def _near_page(slug: str, asked: forms.Nearby, revision: Revision) -> tuple[SimilarPage, Page[int]]:
    """Return the page of near shoes that was asked for, or the last one where it is gone."""
    near = _near(slug, asked, revision)
    page = page_of(near.count, asked.page, NEAREST_PAGE)
    return (near if page.number == asked.page else _near(slug, replace(asked, page=page.number), revision)), page


@gate(PUBLIC)
@require_safe
@lead_from_old_address
@page_by_revision
def shoe_similar(request: HttpRequest, *, slug: str, revision: Revision) -> HttpResponse:
    if slug not in selectors.columns_at(revision).rows and (withdrawn := selectors.withdrawn_get(slug)):
        return _withdrawn_page(request, withdrawn)
    stores, units = store_names_at(revision), units_of(request)
    is_gone = or_404(selectors.is_discontinued, slug, revision=revision)
    try:
        asked = forms.nearby(request.GET, stores, is_available=is_gone)
    except forms.BadQuery as problem:
        return refuse(request, problem)
    near, page = _near_page(slug, asked, revision)
    shoe = or_404(selectors.shoe_get, slug)
    system, stock_at = size_system_of(request), stores.get(asked.store or "", "")
    texts = [presentation.similar_text(other, units, system, asked.store) for other in near.shoes]
    context = {
        "shoe": shoe,
        "asked": asked,
        "near": fragment("catalogue/near.html", here=shoe.name, near=texts, stock_at=stock_at) if texts else "",
        "versions": _versions(shoe, units, revision) if page.number == 1 else [],
        "page": page,
        "notice": page_gone(asked.page, page),
        "weighed": presentation.weighed_options(asked.weighed),
        "sizes": presentation.size_options(asked.size, sizes_at(revision), system),
        "stores": presentation.store_options(asked.store, stores),
        "shoe_url": presentation.shoe_url(slug),
        "canonical": request.path,
    }
    return render(request, "catalogue/shoe_similar.html", context)


def _suggested(words: str, chosen: Sequence[str], revision: Revision) -> list[tuple[str, str]]:
    """Return short name and title of shoes to set beside the chosen ones: those found by words, or the nearest."""
    most = FOUND_SHOWN + len(chosen)
    if chosen and not words:
        near = or_404(selectors.similar_page, chosen[0], revision=revision, limit=most, with_stock=False)
        shoes = [(other.shoe.slug, other.shoe.title) for other in near.shoes]
    else:
        selection = selectors.select_shoes(ShoeFilter(q=words), revision=revision)
        shoes = [(point.slug, point.title) for point in selection.points(selection.page(limit=most))]
    return [(slug, title) for slug, title in shoes if slug not in chosen][:FOUND_SHOWN]


def _compared(slugs: Sequence[str]) -> tuple[list[ShoeRow], list[str]]:
    """Return the shoes to compare, and sentences on those that are left out because they are not published.

    Raises
    ------
    BadQuery
        Where none of the shoes is published.
    """
    shoes = selectors.shoes_by_slug(slugs)
    missing = [slug for slug in slugs if slug not in {shoe.slug for shoe in shoes}]
    if not missing:
        return shoes, []
    moved = {slug: address for slug in missing if (address := current_address(slug)) not in (None, slug)}
    if moved:
        return _compared(list(dict.fromkeys(moved.get(slug) or slug for slug in slugs)))
    problem = forms.unknown_shoes(missing, withdrawn=selectors.withdrawn_among(missing))
    if not shoes:
        raise problem
    return shoes, problem.problems


@gate(PUBLIC)
@require_safe
@page_by_revision
def shoe_compare(request: HttpRequest, *, revision: Revision) -> HttpResponse:
    try:
        slugs, words = forms.compared_slugs(request.GET), forms.words(request.GET)
        shoes, left_out = _compared(slugs)
    except forms.BadQuery as problem:
        return _comparison(request, [], revision, problems=sentences_with_labels(problem))
    notices = [f"{sentence} The others are compared." for sentence in left_out]
    return _comparison(request, shoes, revision, words=words, notices=notices)


def _comparison(
    request: HttpRequest,
    shoes: list[ShoeRow],
    revision: Revision,
    *,
    words: str = "",
    notices: Sequence[str] = (),
    problems: Sequence[str] = (),
) -> HttpResponse:
    """Show shoes side by side; where the address could not be read, what was wrong, and shoes to choose from."""
    units = units_of(request)
    slugs = tuple(shoe.slug for shoe in shoes)
    differences = or_404(selectors.compare, slugs, revision=revision) if shoes else []
    is_full = len(shoes) == forms.COMPARED_MOST
    context: dict[str, Any] = {
        "share_title": sharing.compared_title(shoes),
        "canonical": sharing.compared_address(shoes),
        "shoes": presentation.compared_shoes(shoes, units, size_system_of(request)),
        "rows": presentation.compared_rows(shoes, differences, units) if shoes else [],
        "chart": drawings.comparison_markup(shoes) if shoes else "",
        "strip": _strip(shoes, revision),
        "curves": _curves(shoes, units) if shoes else [],
        "sentences": presentation.compared_sentences(shoes, differences, units),
        "notices": notices,
        "problems": problems,
        "words": words,
        "meant": selectors.did_you_mean(words, revision=revision) if words else None,
        "others": [] if is_full else presentation.other_options(_suggested(words, slugs, revision), slugs),
    }
    return render(request, "catalogue/shoe_compare.html", context, status=400 if problems else 200)


@gate(PUBLIC)
@require_safe
@page_by_revision
def shoe_replace(request: HttpRequest, *, revision: Revision) -> HttpResponse:
    """Lead somebody whose shoe is gone to what measures most like it."""
    try:
        words = forms.words(request.GET)
    except forms.BadQuery as problem:
        return refuse(request, problem)
    columns = selectors.columns_at(revision)
    selection = selectors.select_shoes(ShoeFilter(q=words, order="name"), revision=revision)
    rows = selection.page(limit=columns.count)
    # Those that are gone come first, they are what people ask about; without words only they are offered.
    is_gone = columns.is_discontinued[rows]
    offered = [*rows[is_gone].tolist(), *(rows[~is_gone].tolist() if words else [])][:FOUND_SHOWN]
    meant = selectors.did_you_mean(words, revision=revision) if words and not offered else None
    context = {
        "words": words,
        "found": presentation.replaced_options(columns, offered),
        "nothing": f"We found nothing called “{words}”",
        "meant_url": f"{request.path}?{urlencode({'q': meant})}" if meant else "",
        "meant_label": f"Did you mean {meant}?" if meant else "",
        "canonical": request.path,
    }
    return render(request, "catalogue/shoe_replace.html", context)
