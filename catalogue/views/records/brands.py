"""Pages on which the lab and head office look after brands."""

from __future__ import annotations

from django.contrib import messages
from django.core.paginator import Paginator
from django.db.models import Count, Q
from django.http import HttpRequest, HttpResponse
from django.shortcuts import redirect, render
from django.views.decorators.http import require_http_methods, require_safe

from catalogue import services
from catalogue.forms.shoe_records import BrandCorrectionForm, BrandForm
from catalogue.presentation import shoe_records as presentation
from catalogue.selectors.records.shoe_records import brand_get, brand_list
from catalogue.views.common import or_404
from core import audit
from core.gate.access import gate
from core.web.forms import problems_in, status_of
from core.web.requests import actor_of

WRITE = "catalogue.shoe:write"
ROWS = 100
HISTORY_SHOWN = 50


@gate(WRITE)
@require_safe
def brand_list_page(request: HttpRequest) -> HttpResponse:
    brands = brand_list().annotate(n_shoes=Count("shoes", filter=Q(shoes__merged_into=None)))
    page = Paginator(brands, ROWS).get_page(request.GET.get("page"))
    return render(request, "catalogue/brand_list.html", {"page": page})


@gate(WRITE)
@require_http_methods(["GET", "HEAD", "POST"])
def brand_new(request: HttpRequest) -> HttpResponse:
    form = BrandForm(request.POST if request.method == "POST" else None)
    if request.method == "POST" and form.is_valid():
        with problems_in(form):
            brand = services.brand_create(actor=actor_of(request), name=form.cleaned_data["name"])
            messages.success(request, f"The brand {brand.name} was added.")
            return redirect("catalogue:brand-detail", brand.slug)
    context = {"form": form, "brand": None}
    return render(request, "catalogue/brand_form.html", context, status=status_of(form))


@gate(WRITE)
@require_http_methods(["GET", "HEAD", "POST"])
def brand_detail(request: HttpRequest, slug: str) -> HttpResponse:
    """Show a brand with its history, and correct its name."""
    brand = or_404(brand_get, slug)
    is_sent = request.method == "POST"
    form = BrandCorrectionForm(request.POST) if is_sent else BrandCorrectionForm(initial={"name": brand.name})
    if is_sent and form.is_valid():
        with problems_in(form):
            services.brand_correct(actor=actor_of(request), brand=brand, **form.cleaned_data)
            messages.success(request, "The correction was saved.")
            return redirect("catalogue:brand-detail", slug)
    history = presentation.history(audit.with_people(audit.entries_of(brand)).order_by("-id")[:HISTORY_SHOWN])
    context = {"form": form, "brand": brand, "history": history}
    return render(request, "catalogue/brand_form.html", context, status=status_of(form))
