"""What a browser needs to keep the site at hand: icons, manifest, and one page for when there is no network."""

from __future__ import annotations

from django.http import Http404, HttpRequest, HttpResponse, JsonResponse
from django.shortcuts import render
from django.urls import reverse
from django.views.decorators.http import require_safe

from catalogue.drawings.icon import PAPER, SIZES_PX, icon
from core.gate.access import PUBLIC, gate
from core.web.conditional import program_mark

ICON_SECONDS = 7 * 86_400
ACCENT = "#0f4c5c"


@gate(PUBLIC)
@require_safe
def icon_file(request: HttpRequest, kind: str, size: int) -> HttpResponse:
    """Send our mark as PNG in one of its sizes."""
    if kind not in ("icon", "maskable") or size not in SIZES_PX:
        raise Http404("This icon does not exist.")
    response = HttpResponse(icon(size, is_masked=kind == "maskable"), content_type="image/png")
    response.headers["Cache-Control"] = f"public, max-age={ICON_SECONDS}"
    return response


@gate(PUBLIC)
@require_safe
def manifest(request: HttpRequest) -> JsonResponse:
    """Describe the site to devices that put it among their applications (W3C Web Application Manifest)."""
    icons = [("icon", 192, "any"), ("icon", 512, "any"), ("maskable", 512, "maskable")]
    content = {
        "name": "Benchlast",
        "short_name": "Benchlast",
        "description": "Shoes, measured on a bench and placed on one stability scale.",
        "start_url": reverse("catalogue:shoe-list"),
        "scope": "/",
        "display": "minimal-ui",
        "background_color": PAPER,
        "theme_color": ACCENT,
        "icons": [
            {
                "src": reverse("catalogue:icon", args=[kind, size]),
                "sizes": f"{size}x{size}",
                "type": "image/png",
                "purpose": purpose,
            }
            for kind, size, purpose in icons
        ],
    }
    response = JsonResponse(content, content_type="application/manifest+json")
    response.headers["Cache-Control"] = f"public, max-age={ICON_SECONDS}"
    return response


@gate(PUBLIC)
@require_safe
def service_worker(request: HttpRequest) -> HttpResponse:
    """Send the script that keeps the page for when there is no network; from the root, so that it serves every page."""
    context = {"mark": program_mark()}
    kind = "text/javascript; charset=utf-8"
    response = render(request, "catalogue/service-worker.js", context, content_type=kind)
    response.headers["Cache-Control"] = "no-cache"
    return response


@gate(PUBLIC)
@require_safe
def offline(request: HttpRequest) -> HttpResponse:
    """Say that there is no network, and list the shoes that this device has seen last."""
    return render(request, "catalogue/offline.html")
