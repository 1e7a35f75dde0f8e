"""The page behind a single-use link: its holder chooses the password of the account."""

from __future__ import annotations

from django.contrib import messages
from django.contrib.auth import login, logout
from django.contrib.auth.password_validation import password_validators_help_texts
from django.http import HttpRequest, HttpResponse
from django.shortcuts import redirect, render
from django.views.decorators.cache import never_cache
from django.views.decorators.debug import sensitive_post_parameters, sensitive_variables
from django.views.decorators.http import require_http_methods

from core.accounts.forms import FirstPasswordForm
from core.accounts.known_browsers import remember
from core.accounts.links import link_use, user_of_link
from core.accounts.views.sign_in import BACKEND
from core.domain.errors import DomainError
from core.gate.access import PUBLIC, gate
from core.models import User
from core.web.forms import problems_in, sent, status_of


@gate(PUBLIC)
@sensitive_post_parameters()
@sensitive_variables("token")
@never_cache
@require_http_methods(["GET", "HEAD", "POST"])
def welcome(request: HttpRequest, pk: int, token: str) -> HttpResponse:
    """Let the holder of the link choose a password; then they are signed in."""
    try:
        person = user_of_link(pk, token)
    except DomainError as problem:
        return render(request, "core/welcome_refused.html", {"message": problem.message}, status=problem.status)
    form = FirstPasswordForm(sent(request))
    if request.method == "POST" and form.is_valid():
        with problems_in(form):
            return _enter(request, link_use(pk=pk, token=token, password=form.cleaned_data["new_password"]))
    context = {"form": form, "person": person, "rules": password_validators_help_texts()}
    return render(request, "core/welcome.html", context, status=status_of(form))


def _enter(request: HttpRequest, user: User) -> HttpResponse:
    """Sign the user in, or leave it to the sign-in page where a second factor must be asked for."""
    logout(request)
    if user.has_second_factor():
        messages.success(request, "Your password is set. Sign in with it.")
        return redirect("core:sign-in")
    login(request, user, backend=BACKEND)
    messages.success(request, "Your password is set, and you are signed in.")
    response = redirect("core:home")
    remember(request, response, user)
    return response
