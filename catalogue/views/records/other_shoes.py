"""Pages that ask for a second shoe: the version before or after one, and the shoe that a duplicate is merged into."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass
from typing import Any

from django.contrib import messages
from django.http import HttpRequest, HttpResponse
from django.shortcuts import redirect, render
from django.urls import reverse
from django.views.decorators.http import require_http_methods

from catalogue import services
from catalogue.forms.shoe_records import OtherShoeForm
from catalogue.models import Shoe
from catalogue.selectors.records.shoe_records import RecordFilter, record_get, record_list
from catalogue.views.common import or_404
from core.accounts.confirm_action import Confirmation, confirm
from core.gate.access import gate
from core.models import User
from core.web.forms import problems_in, status_of
from core.web.requests import actor_of

WRITE = "catalogue.shoe:write"
FOUND_SHOWN = 12


@dataclass(frozen=True, slots=True)
class Question:
    """What a page asks for a second shoe, and what it does with it; the answer is the shoe to go on with."""

    title: str
    effect: str
    button: str
    done: str
    act: Callable[[User, Shoe, Shoe, str], Shoe]


def _link_previous(actor: User, shoe: Shoe, other: Shoe, reason: str) -> Shoe:
    return services.shoe_link(actor=actor, shoe=shoe, previous=other, reason=reason)


def _link_next(actor: User, shoe: Shoe, other: Shoe, reason: str) -> Shoe:
    services.shoe_link(actor=actor, shoe=other, previous=shoe, reason=reason)
    return shoe


def _merge(actor: User, shoe: Shoe, other: Shoe, reason: str) -> Shoe:
    return services.shoe_merge(actor=actor, duplicate=shoe, into=other, reason=reason)


PREVIOUS = Question(
    "Choose the version before",
    "The pages of the two shoes will lead to each other and say what changed.",
    "Link as the version before",
    "The version before is linked.",
    _link_previous,
)
NEXT = Question(
    "Choose the version after",
    "The pages of the two shoes will lead to each other and say what changed.",
    "Link as the version after",
    "The version after is linked.",
    _link_next,
)
MERGE = Question(
    "Merge a duplicate into another shoe",
    "Its stock, barcodes, specimens with their tests, and links to other versions go to the shoe you choose, and its "
    "address leads there. Fittings and printed cards that name it stay as they are. This can’t be taken back.",
    "Merge into this shoe",
    "The duplicate was merged into this shoe.",
    _merge,
)


def _ask(request: HttpRequest, slug: str, question: Question) -> HttpResponse:
    """Let a shoe be searched for and chosen, ask for the reason, and act."""
    shoe = or_404(record_get, slug)
    words = request.GET.get("q", "").replace("\x00", "").strip()[:80]
    candidates = record_list(RecordFilter(words=words)).exclude(pk=shoe.pk).filter(merged_into=None)
    if not words:
        candidates = candidates.filter(brand=shoe.brand)
    form = OtherShoeForm(request.POST if request.method == "POST" else None, shoes=candidates)
    if request.method == "POST" and form.is_valid():
        with problems_in(form):
            chosen = form.cleaned_data
            shown = question.act(actor_of(request), shoe, chosen["other"], chosen["reason"])
            messages.success(request, question.done)
            return redirect("catalogue:record-detail", shown.slug)
    return _page(request, shoe, question, form, words)


def _page(request: HttpRequest, shoe: Any, question: Question, form: OtherShoeForm, words: str) -> HttpResponse:
    choice: Any = form.fields["other"]
    shown = list(choice.queryset[: FOUND_SHOWN + 1])
    choice.choices = [(other.slug, choice.label_from_instance(other)) for other in shown[:FOUND_SHOWN]]
    context = {
        "shoe": shoe,
        "question": question,
        "form": form,
        "words": words,
        "is_any": bool(shown),
        "are_more": len(shown) > FOUND_SHOWN,
    }
    status = status_of(form)
    return render(request, "catalogue/record_other.html", context, status=status)


@gate(WRITE)
@require_http_methods(["GET", "HEAD", "POST"])
def record_previous(request: HttpRequest, slug: str) -> HttpResponse:
    return _ask(request, slug, PREVIOUS)


@gate(WRITE)
@require_http_methods(["GET", "HEAD", "POST"])
def record_next(request: HttpRequest, slug: str) -> HttpResponse:
    return _ask(request, slug, NEXT)


@gate(WRITE)
@require_http_methods(["GET", "HEAD", "POST"])
def record_merge(request: HttpRequest, slug: str) -> HttpResponse:
    return _ask(request, slug, MERGE)


UNLINK = Confirmation(
    "Remove the link to the version before",
    "The pages of the two shoes no longer lead to each other.",
    "Remove the link",
    "The link was removed.",
)


@gate(WRITE)
@require_http_methods(["GET", "HEAD", "POST"])
def record_unlink(request: HttpRequest, slug: str) -> HttpResponse:
    shoe = or_404(record_get, slug)

    def act(reason: str) -> None:
        services.shoe_link(actor=actor_of(request), shoe=shoe, previous=None, reason=reason)

    subject, back = f"{shoe.brand.name} {shoe.title}", reverse("catalogue:record-detail", args=[slug])
    return confirm(request, UNLINK, subject=subject, act=act, back=back)
