"""Signing in: the password, then a code where a second factor is set up."""

from __future__ import annotations

import math
import time
from typing import Any

from django.conf import settings
from django.contrib import messages
from django.contrib.auth import login
from django.contrib.auth.views import LoginView
from django.http import HttpRequest, HttpResponse, HttpResponseBase, HttpResponseRedirect
from django.shortcuts import redirect, render, resolve_url
from django.urls import reverse
from django.utils import timezone
from django.utils.crypto import constant_time_compare
from django.utils.http import urlencode
from django.views.decorators.cache import never_cache
from django.views.decorators.debug import sensitive_post_parameters
from django.views.decorators.http import require_http_methods
from django_otp.plugins.otp_static.models import StaticDevice

from core.accounts import second_factor
from core.accounts.authentication import PracticeBackend
from core.accounts.forms import CodeForm, SignInForm
from core.accounts.known_browsers import remember
from core.accounts.lockout import count_failure, lock_ends, sign_in_allowed
from core.accounts.security_log import note
from core.accounts.selectors import recovery_codes_left
from core.domain.errors import DomainError
from core.gate.access import PUBLIC, SIGNED_IN, allowed, gate
from core.gate.context import wanted_address
from core.models import SecurityKind, User
from core.web.forms import problems_in, sent, status_of

BACKEND = "core.accounts.authentication.PracticeBackend"
PENDING = "second_step"
SECOND_STEP_SECONDS = 600
FEW_CODES = 3


def next_address(request: HttpRequest, default: str) -> str:
    """Return the page the user asked for if it is on this site; sign-in itself is not a destination."""
    wanted = wanted_address(request)
    return resolve_url(default) if not wanted or wanted.startswith(reverse("core:sign-in")) else wanted


class SignInView(LoginView):
    """The first step. Where a second factor is set up, nobody is signed in before the second step."""

    form_class = SignInForm
    template_name = "registration/sign_in.html"

    def dispatch(self, request: HttpRequest, *args: Any, **kwargs: Any) -> HttpResponseBase:
        if allowed(request.user, SIGNED_IN):
            return HttpResponseRedirect(self.get_success_url())
        return super().dispatch(request, *args, **kwargs)

    def get_success_url(self) -> str:
        return next_address(self.request, settings.LOGIN_REDIRECT_URL)

    def form_valid(self, form: Any) -> HttpResponse:
        user: User = form.get_user()
        if not user.has_second_factor():
            response = super().form_valid(form)
            remember(self.request, response, user)
            return response
        _begin_second_step(self.request, user)
        return redirect(f"{reverse('core:second-step')}?{urlencode({'next': self.get_success_url()})}")

    def form_invalid(self, form: Any) -> HttpResponse:
        return self.render_to_response(self.get_context_data(form=form), status=status_of(form))


sign_in = gate(PUBLIC)(SignInView.as_view())


def _begin_second_step(request: HttpRequest, user: User) -> None:
    request.session.flush()
    request.session[PENDING] = {"user": user.pk, "at": int(time.time()), "mark": user.get_session_auth_hash()}


def _pending_user(request: HttpRequest) -> User | None:
    """Return the user who has just given the right password, unless the account has changed since."""
    pending = request.session.get(PENDING)
    if not pending or time.time() - pending["at"] > SECOND_STEP_SECONDS:
        return None
    user = PracticeBackend().get_user(pending["user"])
    return user if user and constant_time_compare(pending["mark"], user.get_session_auth_hash()) else None


@gate(PUBLIC)
@sensitive_post_parameters("code")
@never_cache
@require_http_methods(["GET", "POST"])
def second_step(request: HttpRequest) -> HttpResponse:
    """Ask for the code; the user is signed in only after a right one."""
    user = _pending_user(request)
    back = next_address(request, settings.LOGIN_REDIRECT_URL)
    if user is None:
        request.session.pop(PENDING, None)
        return redirect(f"{reverse('core:sign-in')}?{urlencode({'next': back})}")
    if not sign_in_allowed(request, user.username):
        return sign_in_locked(request, None, {"username": user.username})
    form = CodeForm(sent(request))
    if request.method == "POST" and form.is_valid():
        with problems_in(form):
            _finish(request, user, form.cleaned_data["code"])
            response = HttpResponseRedirect(back)
            remember(request, response, user)
            return response
    return render(request, "registration/second_step.html", {"form": form, "next": back}, status=status_of(form))


def _finish(request: HttpRequest, user: User, code: str) -> None:
    try:
        device = second_factor.verify(user=user, code=code)
    except DomainError as problem:
        if problem.code == "wrong_code":
            count_failure(request, user.username)
        raise
    request.session.pop(PENDING, None)
    user.otp_device = device  # type: ignore[attr-defined]  # django-otp stores it in the session at login
    login(request, user, backend=BACKEND)
    if isinstance(device, StaticDevice):
        note(SecurityKind.RECOVERY_CODE, user=user, actor=user)
        left = recovery_codes_left(user)
        words = f"This recovery code cannot be used again. Unused recovery codes: {left}."
        messages.warning(request, words + (" Create new ones under My account." if left < FEW_CODES else ""))


def sign_in_locked(
    request: HttpRequest, original_response: HttpResponseBase | None, credentials: dict[str, Any] | None
) -> HttpResponse:
    """Say how long the lock lasts and what to do, in the same words whether or not the account exists."""
    request.session.pop(PENDING, None)
    ends = lock_ends(request, credentials)
    seconds = max(1, math.ceil((ends - timezone.now()).total_seconds()))
    context = {"ends": ends, "minutes": math.ceil(seconds / 60), "limit": settings.AXES_FAILURE_LIMIT}
    response = render(request, "registration/locked.html", context, status=429)
    response.headers["Retry-After"] = str(seconds)
    response.headers["Cache-Control"] = "no-store"
    return response
