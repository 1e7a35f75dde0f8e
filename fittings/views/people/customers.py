"""A customer's page, and what is corrected or noted there."""

from __future__ import annotations

from typing import Any

from django import forms
from django.contrib import messages
from django.http import HttpRequest, HttpResponse
from django.shortcuts import get_object_or_404, redirect, render
from django.utils import timezone
from django.views.decorators.cache import never_cache
from django.views.decorators.http import require_http_methods, require_safe

from core.domain.errors import DomainError
from core.gate.access import allowed, gate
from core.gate.context import units_of
from core.models import Store
from core.web.forms import add_problem, problems_in, status_of
from core.web.requests import actor_of
from fittings import permissions as permissions  # registers the actions named below
from fittings import services
from fittings.forms.people.follow_up import NoteForms
from fittings.forms.people.people import PersonForm
from fittings.models import Customer, Fitting
from fittings.presentation.people import customer as presentation
from fittings.selectors.people.follow_ups import history_of, referral_of
from fittings.selectors.people.hub import fittings_with_everything, perhaps_the_same
from fittings.selectors.people.people import QUERY_MAX
from fittings.selectors.people.personal_data import customers_of
from fittings.views.common import domain_errors_as_pages

WRITE, NOTE = "fittings.customer:write", "fittings.follow_up:answer"


def customer_get(request: HttpRequest, pk: int) -> Customer:
    return get_object_or_404(customers_of(request.user), pk=pk)


@gate("fittings.customer:read")
@never_cache
@require_safe
def customer_detail(request: HttpRequest, pk: int) -> HttpResponse:
    """Everything of a customer on one page."""
    customer = customer_get(request, pk)
    fittings = fittings_with_everything(customer)
    for fitting in fittings:
        # The same person for all of them, read once; and each follow-up's own fitting.
        fitting.customer = customer
        for follow_up in fitting.follow_ups.all():
            follow_up.fitting = fitting
    units, today = units_of(request), timezone.localdate()
    context = {
        "customer": customer,
        "consents": list(customer.consents.all()),
        "last": presentation.last_shoe(fittings),
        "entries": [presentation.fitting_entry(fitting, units, today) for fitting in fittings],
        "may_export": allowed(request.user, "fittings.customer:export", customer.store),
        "may_erase": allowed(request.user, "fittings.customer:erase", customer.store),
    }
    return render(request, "fittings/customer_detail.html", context)


@gate(NOTE)
@never_cache
@require_http_methods(["GET", "HEAD", "POST"])
@domain_errors_as_pages
def contact_add(request: HttpRequest, pk: int) -> HttpResponse:
    """Note that the customer called or came by."""
    customer = customer_get(request, pk)
    fitting = customer.fittings.filter(kept=True).select_related("store").order_by("-at").first()
    if fitting is None:
        raise DomainError(
            "This customer has no fitting yet, so there is nothing to note.", code="no_fitting", status=409
        )
    page = NoteForms(request.POST if request.method == "POST" else None, history=history_of(fitting))
    if request.method == "POST" and page.is_valid() and _noted(request, fitting, page):
        return redirect("fittings:customer-detail", pk=pk)
    context = {"customer": customer, "fitting": fitting, "page": page}
    return render(request, "fittings/contact_add.html", context, status=400 if request.method == "POST" else 200)


def _noted(request: HttpRequest, fitting: Fitting, page: NoteForms) -> bool:
    try:
        noted = services.contact_record(actor=actor_of(request), fitting=fitting, answer=page.answer())
    except DomainError as problem:
        add_problem(page.note, problem)
        return False
    messages.success(request, "Noted.")
    advice = referral_of(noted).advice
    if advice:
        messages.warning(request, " ".join(advice))
    return True


@gate(WRITE)
@never_cache
@require_http_methods(["GET", "HEAD", "POST"])
@domain_errors_as_pages
def customer_correct(request: HttpRequest, pk: int) -> HttpResponse:
    """Correct name, e-mail address and telephone number."""
    customer = customer_get(request, pk)
    initial = {name: getattr(customer, name) for name in ("name", "email", "phone")}
    form = PersonForm(request.POST if request.method == "POST" else None, initial=initial)
    if request.method == "POST" and form.is_valid():
        try:
            services.contact_correct(actor=actor_of(request), customer=customer, **form.cleaned_data)
            messages.success(request, "Corrected.")
            return redirect("fittings:customer-detail", pk=pk)
        except DomainError as problem:
            add_problem(form, problem.within("customer"))
    alike = Store.objects.filter(pk__in=actor_of(request).store_ids(), is_training=customer.store.is_training)
    stores = alike.exclude(pk=customer.store_id)
    context = {"customer": customer, "form": form, "stores": list(stores)}
    return render(request, "fittings/customer_correct.html", context, status=status_of(form))


@gate(WRITE)
@never_cache
@require_http_methods(["POST"])
@domain_errors_as_pages
def customer_move(request: HttpRequest, pk: int) -> HttpResponse:
    """The customer is of another store of the user's."""
    customer = customer_get(request, pk)
    stores = Store.objects.filter(pk__in=actor_of(request).store_ids(), slug=request.POST.get("store", "")[:80])
    services.customer_move(actor=actor_of(request), customer=customer, store=get_object_or_404(stores))
    messages.success(request, "Moved, with all fittings.")
    return redirect("fittings:customer-detail", pk=pk)


class SameForm(forms.Form):
    """Which other record is of the same person. Sent in the body: a name in an address would end in logs."""

    words = forms.CharField(label="Look for the other record", max_length=QUERY_MAX, required=False)
    duplicate = forms.IntegerField(required=False, min_value=1, widget=forms.HiddenInput)


@gate(WRITE)
@never_cache
@require_http_methods(["GET", "HEAD", "POST"])
@domain_errors_as_pages
def customer_merge(request: HttpRequest, pk: int) -> HttpResponse:
    """Merge another record of the same person into this one."""
    customer = customer_get(request, pk)
    form = SameForm(request.POST if request.method == "POST" else None)
    words = ""
    if form.is_bound and form.is_valid():
        words = form.cleaned_data["words"]
        if form.cleaned_data["duplicate"]:
            duplicate = customer_get(request, form.cleaned_data["duplicate"])
            with problems_in(form):
                services.customers_merge(actor=actor_of(request), customer=customer, duplicate=duplicate)
                messages.success(request, "Merged. All fittings are here now.")
                return redirect("fittings:customer-detail", pk=pk)
    context: dict[str, Any] = {"customer": customer, "form": form, "found": list(perhaps_the_same(customer, words))}
    return render(request, "fittings/customer_merge.html", context, status=status_of(form))
