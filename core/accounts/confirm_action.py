"""What is done to somebody's account: one page asks why before it happens."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass
from typing import Any

from django.contrib import messages
from django.http import HttpRequest, HttpResponse
from django.shortcuts import redirect, render
from django.views.decorators.debug import sensitive_variables

from core.accounts.services import NewAccount
from core.web.forms import ReasonForm, problems_in


@dataclass(frozen=True, slots=True)
class Deed:
    """The words of a deed: what it will do, and what was done."""

    title: str
    effect: str
    button: str
    done: str


@sensitive_variables("made")
def ask_why(request: HttpRequest, deed: Deed, *, subject: str, act: Callable[[str], Any], back: str) -> HttpResponse:
    """Show what will happen and ask why; then do it and go back, or show the password that was made.

    Parameters
    ----------
    subject : whom or what it is done to, for the heading
    act : does it, given the reason
    back : address of the page it was asked from
    """
    form = ReasonForm(request.POST or None)
    if request.method == "POST" and form.is_valid():
        with problems_in(form):
            made = act(form.cleaned_data["reason"])
            if isinstance(made, NewAccount):
                return show_password(request, made, back=back)
            messages.success(request, deed.done)
            return redirect(back)
    return render(request, "core/reason.html", {"form": form, "deed": deed, "subject": subject, "back": back})


@sensitive_variables("account", "context")
def show_password(request: HttpRequest, account: NewAccount, *, back: str) -> HttpResponse:
    """Show a temporary password, once: it is in this answer and kept nowhere."""
    context = {"person": account.user, "password": account.password, "back": back}
    response = render(request, "core/temporary_password.html", context)
    response.headers["Cache-Control"] = "no-store"
    return response
