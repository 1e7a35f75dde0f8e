"""What a customer sees through a signed link: the card, the follow-up that is due, unsubscribing."""

from __future__ import annotations

from collections.abc import Callable
from functools import wraps
from typing import Any

from django.http import HttpRequest, HttpResponse, HttpResponseBase, QueryDict
from django.shortcuts import redirect, render
from django.utils import timezone
from django.views.decorators.cache import never_cache
from django.views.decorators.csrf import csrf_exempt
from django.views.decorators.http import require_http_methods, require_safe

from core.domain.errors import DomainError
from core.gate import row_scope
from core.gate.access import PUBLIC, allowed, gate
from core.gate.context import without_address
from core.models import Store, User
from core.web.forms import add_problem
from core.web.requests import actor_of
from fittings import services
from fittings.domain.fitting.referral import SEE_SOMEBODY
from fittings.domain.fitting.stop_signs import same_day_words
from fittings.domain.people.answering_time import EFFORT
from fittings.forms.people import follow_up as forms
from fittings.forms.people.concern import SignsForm
from fittings.models import AnswerConcern, FollowUp
from fittings.presentation.fitting.card import card_context
from fittings.selectors.people.concerns import concern_to_ask, signs_asked
from fittings.selectors.people.follow_ups import history_of
from fittings.selectors.people.lists import follow_up_due, worn_choice
from fittings.services.people.links import Opened, customer_of, opened_by, stop_token_for

View = Callable[..., HttpResponseBase]


def _private(response: HttpResponse) -> HttpResponse:
    response.headers["X-Robots-Tag"] = "noindex, nofollow"
    # "no-referrer" would make browsers send "Origin: null" with the form, which the CSRF check refuses.
    response.headers["Referrer-Policy"] = "same-origin"
    return response


def _refused(request: HttpRequest, problem: DomainError) -> HttpResponse:
    context = {"message": problem.message}
    return _private(render(request, "fittings/link_refused.html", context, status=problem.status))


def _without_address(view: View) -> View:
    """Keep the customer's address out of the audit trail."""

    @wraps(view)
    def answer(request: HttpRequest, *args: Any, **kwargs: Any) -> HttpResponseBase:
        with without_address():
            return view(request, *args, **kwargs)

    return answer


def _actor(request: HttpRequest, store: Store) -> User | None:
    """Return who answers: the customer (none), or the member of staff who is signed in here.

    Raises
    ------
    DomainError
        403 for somebody signed in who may not enter answers in this store.
    """
    if not request.user.is_authenticated:
        return None
    user = actor_of(request)
    if not allowed(user, "fittings.follow_up:answer", store):
        message = f"You are signed in as {user.username}, who may not enter answers for {store}. Sign out first."
        raise DomainError(message, code="signed_in", status=403)
    return user


def _opened(token: str) -> Opened:
    """What a link opens, with the rows of its store in scope for the rest of the request."""
    opened = opened_by(token)
    row_scope.enter([opened.fitting.store_id])
    return opened


@gate(PUBLIC)
@_without_address
@never_cache
@require_safe
def card(request: HttpRequest, token: str) -> HttpResponse:
    """The questions, where some are due; below them the card, where the link is one for the card."""
    try:
        opened = _opened(token)
    except DomainError as problem:
        return _refused(request, problem)
    due = follow_up_due(opened.fitting, timezone.localdate())
    page = _questions(request, opened) if due else None
    return _page(request, opened, {"token": token, "due": due, "page": page})


@gate(PUBLIC)
@_without_address
@never_cache
@require_http_methods(["GET", "HEAD", "POST"])
def answer(request: HttpRequest, token: str) -> HttpResponse:
    """The answers of the follow-up that is due; once, however often they are sent. Opened, it leads to the page."""
    if request.method != "POST":
        return redirect("customer:card", token=token)
    try:
        opened = _opened(token)
        actor = _actor(request, opened.fitting.store)
    except DomainError as problem:
        return _refused(request, problem)
    due = follow_up_due(opened.fitting, timezone.localdate())
    if due is None or request.POST.get("follow_up") != str(due.pk):
        return _page(request, opened, {"token": token, "due": None, "thanks": "We have your answers."})
    page = _questions(request, opened, request.POST)
    if page.is_valid() and _answered(due, page, actor):
        context = {"token": token, "due": None, "thanks": "Thank you for your answers."}
        return _page(request, opened, context | _worrying(due))
    return _page(request, opened, {"token": token, "due": due, "page": page}, status=400)


def _questions(request: HttpRequest, opened: Opened, data: QueryDict | None = None) -> forms.AnswerForms:
    """The questions. The link of an e-mail does not show who opens it, so that only staff see the places on record."""
    by_staff = request.user.is_authenticated and allowed(
        actor_of(request), "fittings.follow_up:answer", opened.fitting.store
    )
    return forms.AnswerForms(data, history=history_of(opened.fitting) if opened.shows_card or by_staff else None)


def _worrying(answered: FollowUp) -> dict[str, Any]:
    """What is shown at once for a worrying answer, and the stop signs that are asked then; nothing for any other."""
    concern = AnswerConcern.objects.select_related("rules").filter(follow_up=answered).first()
    if concern is None:
        return {}
    context: dict[str, Any] = {"advice": concern.advice}
    if concern.stop_signs_asked_at is None and concern.closed_at is None:
        context |= {"concern": concern, "signs_form": SignsForm(signs=signs_asked(concern))}
    return context


@gate(PUBLIC)
@_without_address
@never_cache
@require_http_methods(["GET", "HEAD", "POST"])
def signs(request: HttpRequest, token: str) -> HttpResponse:
    """The stop signs after a worrying answer; once, however often they are sent. Opened, it leads to the page."""
    if request.method != "POST":
        return redirect("customer:card", token=token)
    try:
        opened = _opened(token)
        actor = _actor(request, opened.fitting.store)
    except DomainError as problem:
        return _refused(request, problem)
    context: dict[str, Any] = {"token": token, "due": None}
    concern = concern_to_ask(opened.fitting, request.POST.get("concern", ""))
    if concern is None:
        return _page(request, opened, context | {"thanks": "We have your answers."})
    form = SignsForm(request.POST, signs=signs_asked(concern))
    if not form.is_valid():
        context |= {"advice": concern.advice, "concern": concern, "signs_form": form}
        return _page(request, opened, context, status=400)
    answered = services.concern_signs_answer(actor=actor, concern=concern, signs=form.cleaned_data["signs"])
    return _page(request, opened, context | _after_signs(answered))


def _after_signs(concern: AnswerConcern) -> dict[str, Any]:
    """What is said then: never that it is harmless, whatever was ticked."""
    names = signs_asked(concern)
    said = [f"You ticked: {'; '.join(names[code] for code in concern.stop_signs)}."] if concern.stop_signs else []
    urgent = same_day_words(concern.stop_signs, names)
    return {
        "thanks": "Thank you. The store reads your answers and will contact you.",
        "advice": [*said, *([urgent] if urgent else []), SEE_SOMEBODY],
    }


def _answered(due: FollowUp, page: forms.AnswerForms, actor: User | None) -> bool:
    try:
        services.follow_up_answer(actor=actor, follow_up=due, answer=page.answer())
    except DomainError as problem:
        if problem.code == "already_answered":
            return True
        add_problem(page.questions, problem)
        return False
    return True


def _page(request: HttpRequest, opened: Opened, context: dict[str, Any], *, status: int = 200) -> HttpResponse:
    fitting = opened.fitting
    context |= {
        "fitting": fitting,
        "choice": worn_choice(fitting),
        "shows_card": opened.shows_card,
        "effort": EFFORT,
        "signed_in_as": actor_of(request).username if request.user.is_authenticated else "",
    }
    if fitting.customer is not None and fitting.customer.mail_stopped_at is None and fitting.customer.email:
        context["stop_token"] = stop_token_for(fitting.customer)
    if opened.shows_card:
        context |= card_context(request, fitting)
    return _private(render(request, "fittings/card.html", context, status=status))


@gate(PUBLIC)
@_without_address
@never_cache
# The signed address is what allows it: mail programs send this by themselves (RFC 8058), with no cookie and no form.
@csrf_exempt
@require_http_methods(["GET", "HEAD", "POST"])
def mail_stop(request: HttpRequest, token: str) -> HttpResponse:
    """Unsubscribe. Opening it only asks, because programs open links to look at them; sending it stops them."""
    try:
        customer = customer_of(token)
        actor = _actor(request, customer.store) if request.method == "POST" else None
    except DomainError as problem:
        return _refused(request, problem)
    row_scope.enter([customer.store_id])
    if request.method == "POST":
        services.mail_stop(actor=actor, customer=customer)
    is_stopped = request.method == "POST" or customer.mail_stopped_at is not None
    context = {"store": customer.store, "is_stopped": is_stopped, "token": token}
    return _private(render(request, "fittings/mail_stop.html", context))
