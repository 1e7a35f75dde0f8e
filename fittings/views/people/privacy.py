"""A customer's own page for the staff of the store: what is held, and the ways to hand it out or to remove it."""

from __future__ import annotations

from collections.abc import Callable
from typing import Any

from django import forms
from django.contrib import messages
from django.core.paginator import Paginator
from django.http import HttpRequest, HttpResponse, JsonResponse
from django.shortcuts import get_object_or_404, redirect, render
from django.urls import reverse
from django.views.decorators.cache import never_cache
from django.views.decorators.http import require_http_methods

from core.accounts.confirm_action import Confirmation
from core.gate.access import gate
from core.web.forms import problems_in, status_of
from core.web.requests import actor_of
from fittings.models import Customer
from fittings.selectors.people.people import people_matching
from fittings.selectors.people.personal_data import customers_of
from fittings.services.people import privacy
from fittings.views.common import domain_errors_as_pages

PAGE = 50
WORDS_MOST = 120

EXPORT = Confirmation(
    "Export this person’s data",
    "A file with everything stored about this person. Check who is asking first, and give it to them only.",
    "Make the file",
    "",
)
WITHDRAWAL = Confirmation(
    "Withdraw consent",
    "Name, address and everything about the body and the follow-ups are removed for good. That fittings took place "
    "stays, without the person; anonymous counts stay where five or more are counted together.",
    "Withdraw and remove",
    "Consent is withdrawn and the stored data is removed.",
)
ERASURE = Confirmation(
    "Remove everything",
    "The person, the fittings and the follow-ups are removed for good, and from every count.",
    "Remove for good",
    "All stored data is removed.",
)


class SearchForm(forms.Form):
    """Whom to look for. Sent in the body: a name in an address would end in logs and histories."""

    all_optional = True
    words = forms.CharField(label="Name, e-mail address or telephone number", max_length=WORDS_MOST, required=False)


class RequestReasonForm(forms.Form):
    """How a copy or a removal was asked for. A choice, because the trail stores it and may hold nothing personal."""

    reason = forms.ChoiceField(label="How was it asked for?", choices=list(privacy.ASKED.items()))


class RemovalForm(RequestReasonForm):
    """How it was asked for, and the name once more: what is removed does not come back."""

    name = forms.CharField(label="Write the person’s name to confirm", max_length=WORDS_MOST)

    def __init__(self, data: Any = None, *, customer: Customer) -> None:
        super().__init__(data)
        self.customer = customer
        self.wanted = f"Write “{customer.name}”, so that nobody else is removed by mistake."
        self.fields["name"].error_messages["required"] = self.wanted

    def clean_name(self) -> str:
        name = " ".join(self.cleaned_data["name"].split())
        if name.casefold() != " ".join(self.customer.name.split()).casefold():
            raise forms.ValidationError(self.wanted)
        return name


@gate("fittings.customer:read")
@never_cache
@require_http_methods(["GET", "POST"])
def customer_list(request: HttpRequest) -> HttpResponse:
    form = SearchForm(request.POST if request.method == "POST" else None)
    words = form.cleaned_data["words"] if form.is_bound and form.is_valid() else ""
    customers = people_matching(customers_of(request.user), words).order_by("name", "pk")
    page = Paginator(customers, PAGE).get_page(request.GET.get("page"))
    context = {"form": form, "page_obj": page, "words": words, "more": bool(words) and page.paginator.num_pages > 1}
    return render(request, "fittings/customer_list.html", context, status=200 if not form.errors else 400)


def _customer(request: HttpRequest, pk: int) -> Customer:
    return get_object_or_404(customers_of(request.user), pk=pk)


def _ask(
    request: HttpRequest, pk: int, confirmation: Confirmation, act: Callable[[Customer, str], HttpResponse | None]
) -> HttpResponse:
    """Ask how it was asked for, and for the name before somebody is removed; then do it once."""
    customer = _customer(request, pk)
    data = request.POST if request.method == "POST" else None
    form = RequestReasonForm(data) if confirmation is EXPORT else RemovalForm(data, customer=customer)
    if request.method == "POST" and form.is_valid():
        with problems_in(form):
            answer = act(customer, form.cleaned_data["reason"])
            if answer is not None:
                return answer
            messages.success(request, confirmation.done)
            return redirect("fittings:customer-list")
    context: dict[str, Any] = {
        "confirmation": confirmation,
        "subject": f"{customer.name}, customer {customer.pk} of {customer.store.name}",
        "form": form,
        "back": reverse("fittings:customer-detail", kwargs={"pk": customer.pk}),
    }
    return render(request, "core/confirm_action.html", context, status=status_of(form))


@gate("fittings.customer:export")
@never_cache
@require_http_methods(["GET", "POST"])
@domain_errors_as_pages
def customer_export(request: HttpRequest, pk: int) -> HttpResponse:
    def act(customer: Customer, reason: str) -> HttpResponse:
        held = privacy.customer_export(actor=actor_of(request), customer=customer, reason=reason)
        answer = JsonResponse(held, json_dumps_params={"indent": 1, "ensure_ascii": False})
        answer.headers["Content-Disposition"] = f'attachment; filename="customer-{customer.pk}.json"'
        return answer

    return _ask(request, pk, EXPORT, act)


@gate("fittings.customer:withdraw")
@never_cache
@require_http_methods(["GET", "POST"])
@domain_errors_as_pages
def customer_withdraw(request: HttpRequest, pk: int) -> HttpResponse:
    def act(customer: Customer, reason: str) -> None:
        privacy.customer_withdraw(actor=actor_of(request), customer=customer, reason=reason)

    return _ask(request, pk, WITHDRAWAL, act)


@gate("fittings.customer:erase")
@never_cache
@require_http_methods(["GET", "POST"])
@domain_errors_as_pages
def customer_erase(request: HttpRequest, pk: int) -> HttpResponse:
    def act(customer: Customer, reason: str) -> None:
        privacy.customer_erase(actor=actor_of(request), customer=customer, reason=reason)

    return _ask(request, pk, ERASURE, act)
