"""Pages on which the lab and head office look after shoes: list, add, look at, correct, discontinue."""

from __future__ import annotations

from collections.abc import Sequence
from functools import partial

from django.contrib import messages
from django.core.paginator import Paginator
from django.db import IntegrityError
from django.http import HttpRequest, HttpResponse
from django.shortcuts import redirect, render
from django.urls import reverse
from django.views.decorators.http import require_http_methods, require_safe

from catalogue import services
from catalogue.forms.shoe_records import RecordFilterForm, ShoeCorrectionForm, ShoeForm, initial_of
from catalogue.models import Shoe
from catalogue.presentation import shoe_records as presentation
from catalogue.selectors.records.shoe_records import brand_list, record_get, record_list, shoes_at
from catalogue.services import ShoeOvertaken, shoe_edition
from catalogue.views.common import or_404
from core import audit
from core.accounts.confirm_action import Confirmation, confirm
from core.domain.errors import DomainError
from core.gate.access import gate
from core.gate.context import units_of
from core.web.forms import SavedAtTheSameTime, add_problem, problems_in, status_of
from core.web.requests import actor_of

WRITE = "catalogue.shoe:write"
ROWS = 50
HISTORY_SHOWN = 50
DISCONTINUE = Confirmation(
    "Discontinue the shoe",
    "The maker no longer makes it. Its scores stay published, and its page leads to shoes that measure like it.",
    "Discontinue it",
    "The shoe is marked as discontinued.",
)
RESUME = Confirmation(
    "Mark the shoe as made again",
    "Its page no longer says that the maker has discontinued it.",
    "Mark it as made again",
    "The shoe is no longer marked as discontinued.",
)


@gate(WRITE)
@require_safe
def record_list_page(request: HttpRequest) -> HttpResponse:
    form = RecordFilterForm(request.GET)
    page = Paginator(record_list(form.wanted()), ROWS).get_page(request.GET.get("page"))
    lines = [(shoe, presentation.state_text(shoe)) for shoe in page.object_list]
    context = {"form": form, "page": page, "lines": lines}
    return render(request, "catalogue/record_list.html", context, status=status_of(form))


@gate(WRITE)
@require_http_methods(["GET", "HEAD", "POST"])
def record_new(request: HttpRequest) -> HttpResponse:
    """Add a shoe; on the page of a brand it is already chosen."""
    initial = {"brand": brand_list().filter(slug=request.GET.get("brand", "")).first()}
    form = ShoeForm(request.POST) if request.method == "POST" else ShoeForm(initial=initial)
    if request.method == "POST" and form.is_valid():
        with problems_in(form):
            shoe = services.shoe_create(
                actor=actor_of(request), barcodes=form.cleaned_data["barcodes"], **form.details()
            )
            messages.success(request, f"{shoe.title} was added as a draft. Visitors see it once scores are published.")
            return redirect("catalogue:record-detail", shoe.slug)
    return render(request, "catalogue/record_form.html", {"form": form, "shoe": None}, status=status_of(form))


@gate(WRITE)
@require_safe
def record_detail(request: HttpRequest, slug: str) -> HttpResponse:
    moved = shoes_at([slug]).get(slug)
    # A merged duplicate has a page of its own, which says where it went.
    if moved is not None and moved.slug != slug and not Shoe.objects.filter(slug=slug).exists():
        return redirect("catalogue:record-detail", moved.slug, permanent=True)
    shoe = or_404(record_get, slug)
    context = {
        "shoe": shoe,
        "state": presentation.state_text(shoe),
        "facts": presentation.record_facts(shoe, units_of(request)),
        "next": Shoe.objects.filter(previous=shoe).select_related("brand").first(),
        "merged": shoe.duplicates.select_related("brand"),
        "history": presentation.history(audit.with_people(audit.entries_of(shoe)).order_by("-id")[:HISTORY_SHOWN]),
    }
    return render(request, "catalogue/record_detail.html", context)


@gate(WRITE)
@require_http_methods(["GET", "HEAD", "POST"])
def record_correct(request: HttpRequest, slug: str) -> HttpResponse:
    shoe = or_404(record_get, slug)
    if request.method != "POST":
        return _correction_page(request, shoe, ShoeCorrectionForm(initial=initial_of(shoe, shoe_edition(shoe))))
    form = ShoeCorrectionForm(request.POST)
    if not form.is_valid():
        return _correction_page(request, shoe, form, status=400)
    try:
        row = services.shoe_correct(
            actor=actor_of(request),
            shoe=shoe,
            changes=form.changes(),
            reason=form.cleaned_data["reason"],
            edition=form.cleaned_data["edition"],
            barcodes=form.changed_barcodes(),
        )
    except ShoeOvertaken as problem:
        return _overtaken(request, or_404(record_get, slug), form, problem)
    except (DomainError, IntegrityError) as problem:
        add_problem(form, problem if isinstance(problem, DomainError) else SavedAtTheSameTime())
        return _correction_page(request, shoe, form, status=400)
    messages.success(request, "The correction was saved.")
    return redirect("catalogue:record-detail", row.slug)


def _correction_page(
    request: HttpRequest,
    shoe: Shoe,
    form: ShoeCorrectionForm,
    *,
    status: int = 200,
    overtaken: Sequence[presentation.EntryText] = (),
) -> HttpResponse:
    context = {"form": form, "shoe": shoe, "overtaken": overtaken}
    return render(request, "catalogue/record_form.html", context, status=status)


def _overtaken(request: HttpRequest, shoe: Shoe, form: ShoeCorrectionForm, problem: ShoeOvertaken) -> HttpResponse:
    """Show what somebody else changed since, above the form with what was typed into it."""
    since = audit.entries_of(shoe).filter(id__gt=form.cleaned_data["edition"]).order_by("id")
    merged = form.on_top_of(shoe, problem.edition)
    return _correction_page(request, shoe, merged, status=409, overtaken=presentation.history(audit.with_people(since)))


@gate(WRITE)
@require_http_methods(["GET", "HEAD", "POST"])
def record_discontinue(request: HttpRequest, slug: str) -> HttpResponse:
    """Mark a shoe as discontinued, or a discontinued one as made again."""
    shoe = or_404(record_get, slug)
    act = partial(_discontinue, request, shoe)
    back = reverse("catalogue:record-detail", args=[slug])
    subject = f"{shoe.brand.name} {shoe.title}"
    return confirm(request, RESUME if shoe.is_discontinued else DISCONTINUE, subject=subject, act=act, back=back)


def _discontinue(request: HttpRequest, shoe: Shoe, reason: str) -> None:
    services.shoe_discontinue(
        actor=actor_of(request), shoe=shoe, reason=reason, is_discontinued=not shoe.is_discontinued
    )
