"""Pages of uploads: choose a file, look at what would become of it, store it, read its verdict."""

from __future__ import annotations

from typing import Any

from django.contrib import messages
from django.core.files.uploadedfile import UploadedFile
from django.http import HttpRequest, HttpResponse
from django.shortcuts import redirect, render
from django.utils.http import content_disposition_header
from django.views.decorators.http import require_http_methods, require_safe

from core.errors import DomainError
from core.permissions import gate
from labtests import services
from labtests.forms import UploadForm
from labtests.selectors import overview
from labtests.views.common import actor_of, add_problem, page_of


@gate("labtests.upload:view")
@require_safe
def upload_list(request: HttpRequest) -> HttpResponse:
    return render(request, "labtests/upload_list.html", {"page": page_of(overview.upload_list(), request)})


@gate("labtests.upload:create")
@require_http_methods(["GET", "HEAD", "POST"])
def upload_create(request: HttpRequest) -> HttpResponse:
    is_sent = request.method == "POST"
    form = UploadForm(request.POST, request.FILES) if is_sent else UploadForm()
    if is_sent and form.is_valid():
        file = form.cleaned_data["file"]
        try:
            staged = services.upload_stage(actor=actor_of(request), name=file.name, data=_bytes_of(file))
        except DomainError as problem:
            add_problem(form, problem)
        else:
            return redirect("labtests:upload-preview", pk=staged.pk)
    status = 400 if form.errors else 200
    return render(request, "labtests/upload_form.html", {"form": form}, status=status)


def _bytes_of(file: UploadedFile[Any]) -> bytes:
    return bytes(file.read())


@gate("labtests.upload:create")
@require_http_methods(["GET", "HEAD", "POST"])
def upload_preview(request: HttpRequest, pk: int) -> HttpResponse:
    """Show what would become of the staged bytes; a POST stores them, or forgets them."""
    actor = actor_of(request)
    staged = overview.staged_get(pk, actor)
    if request.method == "POST" and "forget" in request.POST:
        services.upload_unstage(actor=actor, staged=staged)
        messages.info(request, f"{staged.name} was not stored.")
        return redirect("labtests:upload-create")
    if request.method == "POST":
        upload = services.upload_confirm(actor=actor, staged=staged)
        if upload.is_repeat:
            messages.warning(request, "The very same bytes are already on record; nothing was stored twice.")
        return redirect("labtests:upload-detail", pk=upload.pk)
    verdict = services.upload_preview(actor=actor, name=staged.name, data=bytes(staged.data))
    return render(request, "labtests/upload_preview.html", {"staged": staged, "verdict": verdict})


@gate("labtests.upload:view")
@require_safe
def upload_detail(request: HttpRequest, pk: int) -> HttpResponse:
    upload = overview.upload_get(pk)
    return render(request, "labtests/upload_detail.html", {"upload": upload, "verdict": upload.verdict})


@gate("labtests.upload:view")
@require_safe
def upload_raw(request: HttpRequest, pk: int) -> HttpResponse:
    """Give the bytes back as they came, always as a download and never as a page."""
    upload = overview.upload_get(pk)
    response = HttpResponse(overview.upload_bytes(upload), content_type="application/octet-stream")
    disposition = content_disposition_header(as_attachment=True, filename=upload.name)
    response.headers["Content-Disposition"] = disposition or "attachment"
    response.headers["X-Content-Type-Options"] = "nosniff"
    return response
