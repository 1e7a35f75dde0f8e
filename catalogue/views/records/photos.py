"""Photos of shoes: the files that pages show, and the page on which the lab sets them."""

from __future__ import annotations

from typing import Any

from django.contrib import messages
from django.http import Http404, HttpRequest, HttpResponse, HttpResponseBase
from django.shortcuts import get_object_or_404, redirect, render
from django.utils.cache import get_conditional_response, patch_vary_headers
from django.views.decorators.http import require_http_methods, require_safe

from catalogue import presentation, services
from catalogue.forms.photos import PhotoForm
from catalogue.models import Shoe
from catalogue.selectors.public.photos import photo_file, photo_of
from catalogue.services.records import photo_files
from core.domain.errors import DomainError
from core.gate.access import PUBLIC, allowed, gate
from core.web.forms import problems_in, status_of
from core.web.requests import actor_of

WRITE = "catalogue.shoe:write"
# The address of a file has a digest of its content, so what is stored under it never changes.
FOREVER = "public, max-age=31536000, immutable"
RETRY_SECONDS = 60


@gate(PUBLIC)
@require_safe
def photo(request: HttpRequest, digest: str, width: int) -> HttpResponseBase:
    """Send one file of a photo; those of shoes that are not published only to those who may change shoes."""
    file = photo_file(digest, width)
    if file is None or not (file.is_public or allowed(request.user, WRITE)):
        raise Http404("This photo does not exist.")
    etag = f'"{digest}-{width}"'
    response = get_conditional_response(request, etag=etag) or _file_response(request, file.key, width)
    if response.status_code in (200, 304):
        response.headers["ETag"] = etag
        response.headers["Cache-Control"] = FOREVER if file.is_public else "private, no-store"
    if not file.is_public:
        patch_vary_headers(response, ("Cookie",))
    return response


def _file_response(request: HttpRequest, key: str, width: int) -> HttpResponseBase:
    try:
        return HttpResponse(photo_files.read(key, width), content_type="image/webp")
    except FileNotFoundError as problem:
        raise Http404("This photo does not exist.") from problem
    except photo_files.StorageFailed:
        headers = {"Retry-After": str(RETRY_SECONDS), "Cache-Control": "no-store"}
        return HttpResponse("The photo can’t be read at the moment.", status=503, headers=headers)


@gate(WRITE)
@require_http_methods(["GET", "HEAD", "POST"])
def shoe_photo(request: HttpRequest, slug: str) -> HttpResponse:
    """Show the photo of a shoe, published or not, and take another one, another text, or its removal."""
    shoe = get_object_or_404(Shoe.objects.select_related("brand"), slug=slug)
    shown = presentation.photo_text(photo_of(shoe.pk))
    if request.method != "POST":
        initial = {"alternative_text": shown.text} if shown else {}
        return _page(request, shoe, PhotoForm(is_there=shown is not None, initial=initial), shown)
    if request.POST.get("do") == "remove":
        return _removed(request, shoe)
    form = PhotoForm(request.POST, request.FILES, is_there=shown is not None)
    if form.is_valid():
        with problems_in(form):
            _save(request, shoe, form.cleaned_data)
            messages.success(request, "Saved.")
            return redirect("catalogue:shoe-photo", shoe.slug)
    return _page(request, shoe, form, shown)


def _save(request: HttpRequest, shoe: Shoe, sent: dict[str, Any]) -> None:
    words = {"alternative_text": sent["alternative_text"], "seen": request.POST.get("seen", "")}
    if sent["photo"] is None:
        services.photo_describe(actor=actor_of(request), shoe=shoe, **words)
    else:
        services.photo_set(actor=actor_of(request), shoe=shoe, data=sent["photo"].read(), **words)


def _removed(request: HttpRequest, shoe: Shoe) -> HttpResponse:
    try:
        services.photo_remove(actor=actor_of(request), shoe=shoe, seen=request.POST.get("seen", ""))
        messages.success(request, "The photo was removed.")
    except DomainError as problem:
        messages.error(request, problem.message)
    return redirect("catalogue:shoe-photo", shoe.slug)


def _page(request: HttpRequest, shoe: Shoe, form: PhotoForm, shown: presentation.PhotoText | None) -> HttpResponse:
    context = {"shoe": shoe, "form": form, "photo": shown}
    return render(request, "catalogue/shoe_photo.html", context, status=status_of(form))
