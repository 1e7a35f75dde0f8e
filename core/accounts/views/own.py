"""My account: password, second factor, sessions, API tokens."""

from __future__ import annotations

from django.conf import settings
from django.contrib import messages
from django.contrib.auth import update_session_auth_hash
from django.contrib.auth.password_validation import password_validators_help_texts
from django.http import HttpRequest, HttpResponse, HttpResponseRedirect
from django.shortcuts import redirect, render
from django.views.decorators.cache import never_cache
from django.views.decorators.debug import sensitive_post_parameters, sensitive_variables
from django.views.decorators.http import require_GET, require_http_methods, require_POST
from django_otp import login as verify_session

from core.accounts import second_factor
from core.accounts import services as accounts
from core.accounts.forms import CodeForm, EmailForm, OwnPasswordForm, PasswordChangeForm, TokenForm
from core.accounts.provisioning import token_start
from core.accounts.selectors import recovery_codes_left, tokens_of
from core.accounts.views.sign_in import next_address
from core.domain.errors import DomainError
from core.gate.access import SECOND_FACTOR_ROLES, SIGNED_IN, RequiredStep, allowed, gate, required_step
from core.gate.token_scopes import TokenScope
from core.models import User
from core.web.forms import problems_in, sent, status_of
from core.web.requests import actor_of


@gate(SIGNED_IN)
@never_cache
@require_GET
def account(request: HttpRequest) -> HttpResponse:
    user = actor_of(request)
    may_token = allowed(user, "core.token:own")
    context = {
        "roles": [str(held).partition(": ")[2] for held in user.memberships_held()],
        "has_second_factor": user.has_second_factor(),
        "codes_left": recovery_codes_left(user) if user.has_second_factor() else 0,
        "may_token": may_token,
        "tokens": [(token_start(row), row) for row in tokens_of(user)] if may_token else [],
        "idle_minutes": settings.SESSION_IDLE_MINUTES,
        "session_hours": settings.SESSION_HOURS,
    }
    return render(request, "core/account.html", context)


@gate(SIGNED_IN)
@sensitive_post_parameters()
@never_cache
@require_http_methods(["GET", "POST"])
def password_change(request: HttpRequest) -> HttpResponse:
    """Change the user's own password; this session continues, every other one ends."""
    form = PasswordChangeForm(sent(request), request=request)
    back = next_address(request, "core:account")
    if request.method == "POST" and form.is_valid():
        with problems_in(form):
            revoke = form.cleaned_data["revoke_tokens"]
            password = form.cleaned_data["new_password"]
            user = accounts.password_change(actor=actor_of(request), password=password, revoke_tokens=revoke)
            update_session_auth_hash(request, user)
            ended = "All your other sessions have ended" + (" and your API tokens are revoked." if revoke else ".")
            messages.success(request, f"Your password was changed. {ended}")
            return HttpResponseRedirect(back)
    context = {
        "form": form,
        "rules": password_validators_help_texts(),
        "is_first": actor_of(request).must_change_password,
        "tokens": tokens_of(actor_of(request)).count(),
        "next": back,
    }
    return render(request, "core/password_change.html", context, status=status_of(form))


@gate(SIGNED_IN)
@sensitive_post_parameters("current_password")
@never_cache
@require_http_methods(["GET", "POST"])
def email_change(request: HttpRequest) -> HttpResponse:
    """Change where the user is informed of changes to the account; the earlier address is informed of this."""
    user = actor_of(request)
    form = EmailForm(sent(request), request=request, initial={"email": user.email})
    if request.method == "POST" and form.is_valid():
        with problems_in(form):
            accounts.email_change(actor=user, user=user, email=form.cleaned_data["email"])
            messages.success(request, "Your e-mail address was changed.")
            return redirect("core:account")
    return render(request, "core/email_change.html", {"form": form}, status=status_of(form))


@gate(SIGNED_IN)
@require_POST
def sessions_end(request: HttpRequest) -> HttpResponse:
    update_session_auth_hash(request, accounts.sessions_end(actor=actor_of(request), user=actor_of(request)))
    messages.success(request, "All your other sessions have ended.")
    return redirect("core:account")


@gate(SIGNED_IN)
@sensitive_post_parameters()
@never_cache
@require_http_methods(["GET", "POST"])
def second_factor_setup(request: HttpRequest) -> HttpResponse:
    """Ask for the password first; then the secret is shown until one of its codes is confirmed."""
    user = actor_of(request)
    if user.has_second_factor():
        return redirect("core:account")
    form = OwnPasswordForm(sent(request), request=request)
    if request.method == "POST" and form.is_valid():
        with problems_in(form):
            second_factor.second_factor_begin(actor=user)
            return redirect("core:second-factor-confirm")
    context = {"form": form, "is_due": required_step(user) is RequiredStep.SECOND_FACTOR}
    return render(request, "core/second_factor.html", context, status=status_of(form))


@gate(SIGNED_IN)
@sensitive_post_parameters()
@sensitive_variables("codes")
@never_cache
@require_http_methods(["GET", "POST"])
def second_factor_confirm(request: HttpRequest) -> HttpResponse:
    user = actor_of(request)
    device = second_factor.device_of(user, confirmed=False)
    if device is None:
        return redirect("core:second-factor")
    form = CodeForm(sent(request))
    form.fields["code"].help_text = "The six digits your device shows now."
    if request.method == "POST" and form.is_valid():
        with problems_in(form):
            codes = second_factor.second_factor_confirm(actor=user, code=form.cleaned_data["code"])
            verify_session(request, device)  # type: ignore[no-untyped-call]  # django-otp has no types
            update_session_auth_hash(request, User.objects.get(pk=user.pk))
            return _show_codes(request, codes)
    context = {
        "form": form,
        "picture": second_factor.setup_picture(device),
        "secret": second_factor.setup_secret(device),
    }
    return render(request, "core/second_factor_confirm.html", context, status=status_of(form))


def _show_codes(request: HttpRequest, codes: list[str]) -> HttpResponse:
    return render(request, "core/recovery_codes.html", {"codes": codes})


@gate(SIGNED_IN)
@sensitive_post_parameters()
@never_cache
@require_http_methods(["GET", "POST"])
def second_factor_remove(request: HttpRequest) -> HttpResponse:
    user = actor_of(request)
    form = CodeForm(sent(request))
    if request.method == "POST" and form.is_valid():
        with problems_in(form):
            second_factor.second_factor_remove(actor=user, code=form.cleaned_data["code"])
            update_session_auth_hash(request, User.objects.get(pk=user.pk))
            messages.success(request, "The second factor was removed. All your other sessions have ended.")
            return redirect("core:account")
    is_needed = settings.REQUIRE_SECOND_FACTOR and bool(user.roles() & SECOND_FACTOR_ROLES)
    context = {"form": form, "is_needed": is_needed}
    return render(request, "core/second_factor_remove.html", context, status=status_of(form))


@gate(SIGNED_IN)
@sensitive_post_parameters()
@sensitive_variables("codes")
@never_cache
@require_http_methods(["GET", "POST"])
def recovery_codes(request: HttpRequest) -> HttpResponse:
    """Create new recovery codes, confirmed by a code."""
    form = CodeForm(sent(request))
    if request.method == "POST" and form.is_valid():
        with problems_in(form):
            return _show_codes(
                request, second_factor.recovery_codes_renew(actor=actor_of(request), code=form.cleaned_data["code"])
            )
    return render(request, "core/recovery_codes_renew.html", {"form": form}, status=status_of(form))


@gate("core.token:own")
@sensitive_post_parameters()
@sensitive_variables("token")
@never_cache
@require_http_methods(["GET", "POST"])
def token_new(request: HttpRequest) -> HttpResponse:
    form = TokenForm(sent(request), request=request)
    if request.method == "POST" and form.is_valid():
        with problems_in(form):
            token = accounts.token_make(
                actor=actor_of(request),
                days=form.cleaned_data["days"],
                label=form.cleaned_data["label"],
                scope=TokenScope(form.cleaned_data["scope"]),
            )
            return render(request, "core/token_shown.html", {"token": token})
    return render(request, "core/token_new.html", {"form": form}, status=status_of(form))


@gate("core.token:own")
@require_POST
def token_revoke(request: HttpRequest) -> HttpResponse:
    user = actor_of(request)
    try:
        accounts.token_revoke(actor=user, user=user, digest=request.POST.get("token", ""))
        messages.success(request, "The token was revoked. Programs that use it will be refused.")
    except DomainError as problem:
        messages.error(request, problem.message)
    return redirect("core:account")
