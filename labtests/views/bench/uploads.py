"""Pages of uploads: choose files, preview them, store them, read their verdict."""

from __future__ import annotations

import uuid

from django.contrib import messages
from django.core.paginator import Paginator
from django.http import Http404, HttpRequest, HttpResponse, JsonResponse
from django.shortcuts import redirect, render
from django.urls import reverse
from django.utils.http import content_disposition_header
from django.views.decorators.http import require_http_methods, require_safe

from core.domain.errors import DomainError
from core.gate.access import allowed, gate
from core.gate.context import units_of
from core.web.forms import add_problem, status_of
from core.web.requests import actor_of
from labtests import services
from labtests.forms.uploads import UploadsForm
from labtests.models import StagedUpload, Upload
from labtests.presentation.bench import uploads as upload_presentation
from labtests.selectors.bench.uploads import all_uploads, staged_batch, upload_bytes, upload_get
from labtests.selectors.scores.methods import bands_of, scoring_model_current
from labtests.services import GivenFile
from labtests.views.common import page_of

ENTRIES_A_PAGE = 200


@gate("labtests.upload:view")
@require_safe
def upload_list(request: HttpRequest) -> HttpResponse:
    may_upload = allowed(actor_of(request), "labtests.upload:create")
    context = {"page": page_of(all_uploads(), request), "may_upload": may_upload}
    return render(request, "labtests/upload_list.html", context)


@gate("labtests.upload:create")
@require_http_methods(["GET", "HEAD", "POST"])
def upload_create(request: HttpRequest) -> HttpResponse:
    """Take the files; the page's script asks for JSON and goes where that says."""
    is_sent = request.method == "POST"
    form = UploadsForm(request.POST, request.FILES) if is_sent else UploadsForm()
    for_script = request.headers.get("Accept") == "application/json"
    if is_sent and form.is_valid():
        files = [GivenFile(file.name or "", bytes(file.read())) for file in form.cleaned_data["file"]]
        try:
            batch = services.batch_stage(actor=actor_of(request), files=files)
        except DomainError as problem:
            add_problem(form, problem)
        else:
            address = reverse("labtests:upload-preview", args=[batch])
            return JsonResponse({"next": address}, status=201) if for_script else redirect(address)
    status = status_of(form)
    if is_sent and for_script:
        return JsonResponse({"problems": [str(words) for found in form.errors.values() for words in found]}, status=400)
    return render(request, "labtests/upload_form.html", {"form": form}, status=status)


@gate("labtests.upload:create")
@require_http_methods(["GET", "HEAD", "POST"])
def upload_preview(request: HttpRequest, batch: uuid.UUID) -> HttpResponse:
    """Show what would become of the staged files; a POST stores them, or forgets them."""
    staged = staged_batch(batch, actor_of(request))
    if request.method == "POST":
        return _decide(request, staged)
    if not staged:
        raise Http404
    preview = services.batch_preview(actor=actor_of(request), staged=staged)
    model, units = scoring_model_current(), units_of(request)
    bands = bands_of(model.scale)
    files = [upload_presentation.previewed(file, bands, units, guard=model.guard_band) for file in preview.files]
    context = {"files": files, "preview": preview, "is_by_hand": staged[0].is_by_hand}
    return render(request, "labtests/upload_preview.html", context)


def _decide(request: HttpRequest, staged: list[StagedUpload]) -> HttpResponse:
    actor = actor_of(request)
    if not staged:
        # A button pressed twice, or a page left open for a day.
        messages.info(request, "There is nothing left to decide here: the files were already stored or discarded.")
        return redirect("labtests:upload-list")
    if "forget" in request.POST:
        services.batch_forget(actor=actor, staged=staged)
        messages.info(request, f"{upload_presentation.names_of(staged)} not stored.")
        return redirect("labtests:upload-create")
    # Without a choice on the page (one file) everything is meant.
    keep = frozenset(int(pk) for pk in request.POST.getlist("keep") if pk.isdecimal() and len(pk) < 19)
    uploads = services.batch_confirm(actor=actor, staged=staged, keep=keep if "choice" in request.POST else None)
    return _stored(request, uploads)


def _stored(request: HttpRequest, uploads: list[Upload]) -> HttpResponse:
    repeats = [upload for upload in uploads if upload.is_repeat]
    if repeats:
        names = "" if len(uploads) == 1 else f" ({', '.join(upload.name for upload in repeats)})"
        messages.warning(request, f"The very same file is already on record{names}; nothing was stored twice.")
    if len(uploads) == 1:
        return redirect("labtests:upload-detail", pk=uploads[0].pk)
    messages.success(request, upload_presentation.stored_words(uploads))
    return redirect("labtests:upload-list")


@gate("labtests.upload:view")
@require_safe
def upload_detail(request: HttpRequest, pk: int) -> HttpResponse:
    upload = upload_get(pk)
    verdict = upload_presentation.verdict_of(upload.verdict)
    page = Paginator(range(verdict.longest), ENTRIES_A_PAGE).get_page(request.GET.get("page"))
    start = (page.number - 1) * ENTRIES_A_PAGE
    context = {"upload": upload, "verdict": verdict.part(start, start + ENTRIES_A_PAGE), "page": page}
    return render(request, "labtests/upload_detail.html", context)


@gate("labtests.upload:view")
@require_safe
def upload_raw(request: HttpRequest, pk: int) -> HttpResponse:
    """Give the bytes back as they came, always as a download and never as a page."""
    upload = upload_get(pk)
    response = HttpResponse(upload_bytes(upload), content_type="application/octet-stream")
    disposition = content_disposition_header(as_attachment=True, filename=upload.name)
    response.headers["Content-Disposition"] = disposition or "attachment"
    response.headers["X-Content-Type-Options"] = "nosniff"
    return response
