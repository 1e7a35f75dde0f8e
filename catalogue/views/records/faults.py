"""Faulty pairs that stores took back, for the lab."""

from __future__ import annotations

from django import forms
from django.contrib import messages
from django.core.paginator import Paginator
from django.http import HttpRequest, HttpResponse
from django.shortcuts import get_object_or_404, redirect, render
from django.views.decorators.http import require_http_methods, require_safe

from catalogue import services
from catalogue.selectors.records.faults import fault_reports
from core.gate.access import gate
from core.web.forms import problems_in, status_of
from core.web.requests import actor_of

ANSWER = "catalogue.fault:answer"
ROWS = 50


class FaultAnswerForm(forms.Form):
    """What was done about it."""

    answer = forms.CharField(
        label="What was done?", max_length=500, widget=forms.Textarea(attrs={"rows": 2}), help_text="Stays on record."
    )


@gate(ANSWER)
@require_safe
def fault_list(request: HttpRequest) -> HttpResponse:
    page = Paginator(fault_reports(), ROWS).get_page(request.GET.get("page"))
    return render(request, "catalogue/fault_list.html", {"page": page})


@gate(ANSWER)
@require_http_methods(["GET", "HEAD", "POST"])
def fault_detail(request: HttpRequest, pk: int) -> HttpResponse:
    """Show one report, with the others of the shoe, and answer it."""
    report = get_object_or_404(fault_reports(), pk=pk)
    form = FaultAnswerForm(request.POST if request.method == "POST" else None)
    if request.method == "POST" and form.is_valid():
        with problems_in(form):
            services.fault_answer(actor=actor_of(request), report=report, answer=form.cleaned_data["answer"])
            messages.success(request, "Answered.")
            return redirect("catalogue:fault-list")
    others = fault_reports().filter(shoe=report.shoe).exclude(pk=pk)
    context = {
        "report": report,
        "others": list(others[:ROWS]),
        "form": form if report.answered_at is None else None,
    }
    return render(request, "catalogue/fault_detail.html", context, status=status_of(form))
