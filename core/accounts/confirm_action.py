"""One confirmation page for every action on somebody's account: it asks for a reason before anything happens."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass
from typing import Any

from django.contrib import messages
from django.http import HttpRequest, HttpResponse
from django.shortcuts import redirect, render
from django.views.decorators.debug import sensitive_variables

from core.accounts.links import NewLink, link_hours
from core.accounts.services import NewAccount
from core.web.forms import ReasonForm, problems_in, sent, status_of


@dataclass(frozen=True, slots=True)
class Confirmation:
    """The texts of a confirmation page: what the action will do, and the message once it is done."""

    title: str
    effect: str
    button: str
    done: str


@sensitive_variables("result")
def confirm(
    request: HttpRequest, confirmation: Confirmation, *, subject: str, act: Callable[[str], Any], back: str
) -> HttpResponse:
    """Show what will happen and ask for the reason; then act and redirect back, or show the new password.

    Parameters
    ----------
    subject : the account or record concerned, for the heading
    act : performs the action, given the reason
    back : address of the page the user came from
    """
    form = ReasonForm(sent(request))
    if request.method == "POST" and form.is_valid():
        with problems_in(form):
            result = act(form.cleaned_data["reason"])
            if isinstance(result, NewAccount):
                return show_password(request, result, back=back)
            if isinstance(result, NewLink):
                return show_link(request, result, back=back)
            messages.success(request, confirmation.done)
            return redirect(back)
    context = {"form": form, "confirmation": confirmation, "subject": subject, "back": back}
    return render(request, "core/confirm_action.html", context, status=status_of(form))


@sensitive_variables("account", "context")
def show_password(request: HttpRequest, account: NewAccount, *, back: str) -> HttpResponse:
    """Show a temporary password once: it is in this response and stored nowhere."""
    context = {"person": account.user, "password": account.password, "back": back}
    response = render(request, "core/temporary_password.html", context)
    response.headers["Cache-Control"] = "no-store"
    return response


@sensitive_variables("link", "context")
def show_link(request: HttpRequest, link: NewLink, *, back: str) -> HttpResponse:
    """Show a single-use link once: it is in this response and stored nowhere."""
    context = {"person": link.user, "url": link.url, "hours": link_hours(), "back": back}
    response = render(request, "core/account_link.html", context)
    response.headers["Cache-Control"] = "no-store"
    return response
