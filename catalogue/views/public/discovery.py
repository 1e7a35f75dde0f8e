"""What search engines ask for: what they may read, and the addresses of all shoes."""

from __future__ import annotations

from django.conf import settings
from django.http import Http404, HttpRequest, HttpResponse
from django.shortcuts import render
from django.urls import reverse
from django.views.decorators.http import require_safe

from catalogue import presentation, selectors
from catalogue.selectors import Revision
from catalogue.selectors.public.published import published_days_at
from catalogue.selectors.public.stores import store_names_at
from catalogue.views.caching import page_by_revision
from core.gate.access import PUBLIC, gate

# A sitemap holds at most 50,000 addresses (sitemaps.org protocol 0.9, from memory).
PART = 50_000
CLOSED = (
    *("/lab/", "/fittings/", "/outcomes/", "/f/", "/api/", "/wall/", "/catalogue/", "/office/", "/staff/"),
    *("/account/", "/sign-in/", "/sign-out/", "/welcome/", "/home/", "/units/", "/remembered/", "/offline/"),
    "/screen/",
)
XML = "application/xml; charset=utf-8"


@gate(PUBLIC)
@require_safe
def robots(request: HttpRequest) -> HttpResponse:
    lines = ["User-agent: *", *(f"Disallow: {address}" for address in CLOSED)]
    lines.append(f"Sitemap: {settings.SITE_URL}{reverse('catalogue:sitemap')}")
    return HttpResponse("\n".join(lines) + "\n", content_type="text/plain; charset=utf-8")


@gate(PUBLIC)
@require_safe
@page_by_revision
def sitemap_index(request: HttpRequest, *, revision: Revision) -> HttpResponse:
    parts = range(1, 2 + (selectors.columns_at(revision).count - 1) // PART)
    context = {"addresses": [reverse("catalogue:sitemap-part", args=[part]) for part in parts or [1]]}
    return render(request, "catalogue/sitemap_index.xml", context, content_type=XML)


@gate(PUBLIC)
@require_safe
@page_by_revision
def sitemap_part(request: HttpRequest, *, part: int, revision: Revision) -> HttpResponse:
    """List the shoes of one part; the first also has the other pages."""
    slugs, days = selectors.columns_at(revision).slugs, published_days_at(revision)
    addresses = [(presentation.shoe_url(slug), days.get(slug)) for slug in slugs[(part - 1) * PART : part * PART]]
    if part == 1:
        names = ("catalogue:store-list", "catalogue:method", "catalogue:shoe-replace")
        others = [
            (reverse("catalogue:shoe-list"), max(days.values(), default=None)),
            *((reverse(name), None) for name in names),
        ]
        stores = [(reverse("catalogue:store-detail", args=[slug]), None) for slug in store_names_at(revision)]
        addresses = [*others, *stores, *addresses]
    if part < 1 or not addresses:
        raise Http404("This part does not exist.")
    return render(request, "catalogue/sitemap.xml", {"addresses": addresses}, content_type=XML)
