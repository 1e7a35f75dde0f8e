"""Follow-ups by the staff: what is due, the call on one screen, tries, addresses; and the card to be printed."""

from __future__ import annotations

import uuid
from typing import Any

import segno
from django.contrib import messages
from django.core.paginator import Paginator
from django.http import HttpRequest, HttpResponse
from django.shortcuts import redirect, render
from django.utils import timezone
from django.utils.safestring import SafeString, mark_safe
from django.views.decorators.cache import never_cache
from django.views.decorators.http import require_http_methods, require_POST, require_safe

from core.domain.errors import DomainError
from core.gate.access import gate
from core.models import Store
from core.web.forms import add_problem
from core.web.requests import actor_of
from fittings import permissions as permissions  # registers the actions named below
from fittings import services
from fittings.forms.people import follow_up as forms
from fittings.forms.people.people import ContactForm
from fittings.models import Customer, FollowUp
from fittings.presentation.fitting.card import card_context
from fittings.presentation.people import call_script
from fittings.selectors.people.follow_ups import history_of, referral_of, with_tries
from fittings.selectors.people.lists import fitting_get, follow_up_get, follow_ups_of
from fittings.selectors.people.people import QUERY_MAX, people_matching
from fittings.services.people.links import link_for
from fittings.views.common import domain_errors_as_pages

PAGE = 30
READ, ANSWER = "fittings.follow_up:read", "fittings.follow_up:answer"


@gate(READ)
@never_cache
@require_http_methods(["GET", "HEAD", "POST"])
def follow_up_list(request: HttpRequest) -> HttpResponse:
    """The follow-ups that are due, the oldest first; of one store where somebody works in several.

    Somebody is looked for in the body: a name in an address would end in logs and histories.
    """
    today = timezone.localdate()
    stores = list(Store.objects.filter(pk__in=actor_of(request).store_ids()))
    wanted = request.POST.get("store", request.GET.get("store"))
    store = next((each for each in stores if each.slug == wanted), None)
    words = request.POST.get("words", "").replace("\x00", " ").strip()[:QUERY_MAX]
    due = with_tries(follow_ups_of(request.user, due_on=today))
    if store is not None:
        due = due.filter(fitting__store=store)
    if words:
        due = due.filter(fitting__customer__in=people_matching(Customer.objects.visible_to(request.user), words))
    page = Paginator(due, PAGE).get_page(request.GET.get("page"))
    context = {
        "page_obj": page,
        "lines": [call_script.due_line(item, today) for item in page.object_list],
        "stores": stores if len(stores) > 1 else [],
        "store": store,
        "words": words,
        "more": bool(words) and page.paginator.num_pages > 1,
    }
    return render(request, "fittings/follow_up_list.html", context)


@gate(ANSWER)
@never_cache
@require_http_methods(["GET", "HEAD", "POST"])
@domain_errors_as_pages
def follow_up_answer(request: HttpRequest, pk: int) -> HttpResponse:
    """The call: what to say, the questions, and what to note where nobody was reached."""
    follow_up = follow_up_get(request.user, pk)
    page = forms.AnswerForms(request.POST if request.method == "POST" else None, history=history_of(follow_up.fitting))
    if request.method == "POST" and follow_up.answered_at is None and page.is_valid():
        try:
            answered = services.follow_up_answer(actor=actor_of(request), follow_up=follow_up, answer=page.answer())
            messages.success(request, f"Recorded. {answered.recurrence_reasoning}")
            advice = referral_of(answered).advice
            if advice:
                messages.warning(
                    request, f"{' '.join(advice)} It is in “Answers that need attention”, under your name."
                )
            return redirect("fittings:fitting-detail", pk=follow_up.fitting_id)
        except DomainError as problem:
            add_problem(page.questions, problem)
    return _call_page(request, follow_up, page, status=400 if page.questions.is_bound else 200)


def _call_page(
    request: HttpRequest,
    follow_up: FollowUp,
    page: forms.AnswerForms,
    *,
    contact: ContactForm | None = None,
    status: int = 200,
) -> HttpResponse:
    customer = follow_up.fitting.customer
    initial = {"email": customer.email, "phone": customer.phone} if customer else {}
    context: dict[str, Any] = {
        "page": page,
        "follow_up": follow_up,
        "customer": customer,
        "script": call_script.script_of(follow_up, actor_of(request)),
        "line": call_script.due_line(follow_up, timezone.localdate()),
        "tries": [call_script.try_words(item) for item in follow_up.tries.select_related("by")],
        "is_answered": follow_up.answered_at is not None,
        "not_reached": forms.NotReachedForm(initial={"submission": uuid.uuid4()}),
        "contact": contact or ContactForm(initial=initial, prefix="contact"),
    }
    return render(request, "fittings/follow_up_answer.html", context, status=status)


@gate(ANSWER)
@require_POST
@domain_errors_as_pages
def not_reached(request: HttpRequest, pk: int) -> HttpResponse:
    """Nobody answered the telephone: one try more, however often it is sent."""
    follow_up = follow_up_get(request.user, pk)
    form = forms.NotReachedForm(request.POST)
    if not form.is_valid():
        raise DomainError("The form was incomplete. Open the follow-up again and repeat it.")
    services.not_reached_note(actor=actor_of(request), follow_up=follow_up, submission=form.cleaned_data["submission"])
    messages.success(request, "Recorded: no answer.")
    return redirect("fittings:follow-up-list")


@gate(ANSWER)
@require_POST
@domain_errors_as_pages
def contact_save(request: HttpRequest, pk: int) -> HttpResponse:
    """Another address or number, given on the telephone."""
    follow_up = follow_up_get(request.user, pk)
    form = ContactForm(request.POST, prefix="contact")
    customer = follow_up.fitting.customer
    if form.is_valid() and customer is not None:
        try:
            services.contact_correct(actor=actor_of(request), customer=customer, **form.cleaned_data)
            messages.success(request, "Contact details changed.")
            return redirect("fittings:follow-up-answer", pk=pk)
        except DomainError as problem:
            add_problem(form, problem.within("customer"))
    page = forms.AnswerForms(history=history_of(follow_up.fitting))
    return _call_page(request, follow_up, page, contact=form, status=400)


@gate(ANSWER)
@require_POST
@domain_errors_as_pages
def mail_set(request: HttpRequest, pk: int) -> HttpResponse:
    """E-mail bounced, or the customer says whether they want e-mails."""
    follow_up = follow_up_get(request.user, pk)
    customer, actor = follow_up.fitting.customer, actor_of(request)
    what = request.POST.get("what", "")
    if customer is None or what not in ("bounced", "stop", "allow"):
        raise DomainError("Choose one: the e-mail bounced, the customer wants no more e-mails, or wants them again.")
    if what == "bounced":
        services.bounce_note(actor=actor, follow_up=follow_up)
        messages.success(request, "Recorded. Nothing is sent to this address until it is changed.")
    elif what == "stop":
        services.mail_stop(actor=actor, customer=customer)
        messages.success(request, "Recorded. No more e-mails will be sent.")
    else:
        services.mail_allow(actor=actor, customer=customer)
        messages.success(request, "Recorded. E-mails will be sent again.")
    return redirect("fittings:follow-up-answer", pk=pk)


@gate(ANSWER)
@never_cache
@require_POST
@domain_errors_as_pages
def links_revoke(request: HttpRequest, pk: int) -> HttpResponse:
    """End the links of a customer to a fitting, because one reached somebody else."""
    services.links_revoke(actor=actor_of(request), fitting=fitting_get(request.user, pk))
    done = "The links to this fitting no longer work, nor do those that stop e-mails. The card has a new one."
    messages.success(request, done)
    return redirect("fittings:fitting-detail", pk=pk)


@gate("fittings.fitting:read")
@never_cache
@require_safe
@domain_errors_as_pages
def card(request: HttpRequest, pk: int) -> HttpResponse:
    """The customer's card as it is printed in the store, with the way to it on paper."""
    fitting = fitting_get(request.user, pk)
    if not fitting.kept:
        return render(request, "fittings/fitting_empty.html", {"fitting": fitting})
    link = link_for(fitting)
    context = card_context(request, fitting) | {"link": link, "picture": _picture(link)}
    return render(request, "fittings/card_print.html", context)


def _picture(link: str) -> SafeString:
    svg = segno.make(link, error="l", micro=False).svg_inline(
        scale=3, border=4, light="#fff", title="QR code of the link to this card", svgclass=None, lineclass=None
    )
    return mark_safe(svg)  # noqa: S308  drawn by segno; the address in it is a picture only
